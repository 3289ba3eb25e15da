"""The page of the people: who they are, what is next for each, and when they last ran."""

from __future__ import annotations

import time
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QCheckBox,
    QHeaderView,
    QLineEdit,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.start.actions import Outcome
from feedback.screens.start.later import Later
from feedback.screens.start.model import Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row
from feedback.screens.start.people import (
    LastSession,
    PersonRow,
    found,
    in_order,
    last_sessions,
    with_sessions,
)
from feedback.screens.start.people_files import read_rows
from feedback.screens.widgets.style import label, named
from shared.language import _
from shared.problems import UserError

_ROW_PX: Final = 40


class PeoplePage(Page):
    """A list that can be searched; what can be done with whoever is chosen stands below it."""

    help_topic = "start-window"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._rows: tuple[PersonRow, ...] = ()
        self._known: dict[str, LastSession] = {}
        self._shown: tuple[PersonRow, ...] = ()
        self._wanted = ""
        self._later = Later[tuple[PersonRow, ...]](self._on_rows, self._on_failed)
        self.search = QLineEdit()
        self.search.setPlaceholderText(_("Search"))
        self.search.setClearButtonEnabled(True)
        named(self.search, _("Search"), _("Part of a name or of a next step"))
        self.new = button(
            _("New runner"), self._new, _("Three fields: name, height, belt speed"), first=True
        )
        self.video = button(
            _("Measure a video"), self._video, _("A file, with a report of its own")
        )
        self.table = self._lay_out_table()
        self.empty = label(kind="strong", wrap=True)
        self.chosen = label(wrap=True)
        self.go_on = button(_("Next step"), self._next, first=True)
        self.records = button(_("Records"), self._records, _("Sessions and charts over time"))
        self.edit = button(_("Edit profile"), self._edit)
        self.examples = QCheckBox(_("Show fictional examples"))
        named(self.examples, _("Show fictional examples"))
        self._lay_out()
        self.search.textChanged.connect(self._show)
        self.search.returnPressed.connect(self._on_return)
        self.examples.toggled.connect(self._show)

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("People")

    def enter(self, context: Context) -> None:
        """Read the profiles anew: files may have been written by hand meanwhile."""
        self._wanted = context.person_id or self._wanted
        self._later.ask(lambda: read_rows(int(time.time())))
        self.shell.jobs.run(["records", "--json"], self._on_records)
        self._on_choice()

    def first_control(self) -> QWidget | None:
        """The search; without anybody to search for, the way to a new runner."""
        return self.search if self._rows else self.new

    # ---- what comes in

    def _on_rows(self, rows: tuple[PersonRow, ...]) -> None:
        first = not self._rows
        self._rows = rows
        if first and not any(not one.example for one in rows):
            self.examples.setChecked(False)
        self._show()
        if first and self._shown and self.new.hasFocus():
            self.table.setFocus()  # most often somebody is there to go on with

    def _on_failed(self, error: UserError) -> None:
        self.shell.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")

    def _on_records(self, outcome: Outcome) -> None:
        """Without the store the list stays as it is: it only lacks the last sessions."""
        if outcome.ok:
            self._known = last_sessions(outcome.data())
            self._show()
        elif not outcome.cancelled and self.isVisible():
            self.shell.tell(outcome.what, outcome.then)

    # ---- what is shown

    def _show(self) -> None:
        kept = self.person
        wanted = self._wanted or ("" if kept is None else kept.person_id)
        rows = with_sessions(self._rows, self._known)
        some = [one for one in rows if self.examples.isChecked() or not one.example]
        self._shown = found(in_order(some), self.search.text())
        self.table.blockSignals(True)
        self.table.setRowCount(len(self._shown))
        chosen = 0 if self._shown else -1
        for number, one in enumerate(self._shown):
            cells = (one.code_name, one.next_words, one.last_words, str(one.sessions or ""))
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                if column == 3:
                    item.setTextAlignment(
                        Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    )
                self.table.setItem(number, column, item)
            if one.person_id and one.person_id == wanted:
                chosen = number
        self.table.blockSignals(False)
        if chosen >= 0:
            self.table.selectRow(chosen)
            self._wanted = ""
        self.table.setVisible(bool(self._shown))
        self.below.setVisible(bool(self._shown))
        self.fill.setVisible(not self._shown)
        self.empty.setVisible(not self._shown)
        self.empty.setText(
            _("Nobody is found by that.")
            if self.search.text()
            else _("Nobody is here yet. Begin with a new runner.")
        )
        self._on_choice()

    def _on_choice(self) -> None:
        one = self.person
        usable = one is not None and one.profile is not None and not one.broken
        self.go_on.setEnabled(usable)
        self.edit.setEnabled(one is not None and one.profile is not None)
        self.records.setEnabled(one is not None and bool(one.person_id))
        if one is None:
            self.chosen.setText("")
            return
        words = one.why or one.next_words
        self.chosen.setText(
            _("{name}: {what}").format(name=one.code_name, what=words) if words else one.code_name
        )

    @property
    def person(self) -> PersonRow | None:
        """Who is chosen."""
        number = self.table.currentRow()
        return self._shown[number] if 0 <= number < len(self._shown) else None

    # ---- what is done

    def _context(self) -> Context:
        one = self.person
        if one is None:
            return Context()
        return Context(profile=one.profile, person_id=one.person_id, code_name=one.code_name)

    def _new(self) -> None:
        self.shell.open(PageName.NEW_RUNNER)

    def _video(self) -> None:
        self.shell.open(PageName.VIDEO, self._context())

    def _next(self) -> None:
        one = self.person
        if one is None:
            return
        if one.broken:
            self._edit()
        elif one.profile is None:
            self._records()
        else:
            self.shell.open(PageName.WAY, self._context())

    def _records(self) -> None:
        self.shell.open(PageName.RECORDS, self._context())

    def _edit(self) -> None:
        self.shell.open(PageName.PROFILE, self._context())

    def _on_return(self) -> None:
        if self.person is not None:
            self.table.setFocus()

    def _lay_out_table(self) -> QTableWidget:
        table = QTableWidget(0, 4)
        table.setHorizontalHeaderLabels(
            [_("Runner"), _("Next step"), _("Last session"), _("Sessions")]
        )
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setShowGrid(False)
        table.setWordWrap(False)
        named(table, _("People"), _("Enter opens the next step"))
        down, across = table.verticalHeader(), table.horizontalHeader()
        if down is not None and across is not None:
            down.hide()
            down.setDefaultSectionSize(_ROW_PX)
            across.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
            across.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
            across.setSectionResizeMode(2, QHeaderView.ResizeMode.ResizeToContents)
            across.setSectionResizeMode(3, QHeaderView.ResizeMode.ResizeToContents)
            across.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
            across.setHighlightSections(False)
        table.setMinimumHeight(6 * _ROW_PX)
        table.itemSelectionChanged.connect(self._on_choice)
        table.activated.connect(lambda _: self._next())
        return table

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        self.search.setMinimumWidth(320)
        column.addWidget(row(self.search, self.new, self.video))
        column.addWidget(self.empty)
        column.addWidget(self.table, 1)
        column.addWidget(self.chosen)
        self.below = row(self.go_on, self.records, self.edit)
        self.fill = QWidget()
        column.addWidget(self.below)
        column.addWidget(self.fill, 1)
        column.addWidget(self.examples)
        self.empty.hide()
