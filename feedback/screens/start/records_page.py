"""The records of one person: sessions, charts, reports, export, and erasing."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from PyQt6.QtCore import Qt, QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QFileDialog,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.start.actions import Job, Outcome
from feedback.screens.start.dates_chart import DatesChart
from feedback.screens.start.erase_card import EraseCard
from feedback.screens.start.model import Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row
from feedback.screens.start.printing import print_pdf
from feedback.screens.start.records_model import Records, Session, records_of
from feedback.screens.widgets.style import label, named
from feedback.texts.profile_fields import choice_title
from shared.language import _
from shared.preferred_units import speed_text

_ROW_PX: Final = 32
_ROWS: Final = 6


class RecordsPage(Page):
    """A table of sessions with what can be done with the one chosen, and one chart below it."""

    help_topic = "records"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._context = Context()
        self._records: Records | None = None
        self._job: Job | None = None
        self.table = self._lay_out_table()
        self.none = label(wrap=True)
        self.report = button(
            _("Open report"), self._open_report, _("Of the session chosen"), first=True
        )
        self.print = button(_("Print report"), self._print_report)
        self.progress = button(
            _("Open progress page"), self._open_progress, _("All sessions on one page")
        )
        self.export = button(_("Export"), self._export, _("All sessions, as a file to send"))
        self.erase = button(_("Erase"), self._ask_to_erase, _("Everything of this person"))
        self.measure = QComboBox()
        self.measure.setMinimumWidth(320)
        named(self.measure, _("Measure"), _("What the chart shows"))
        self.compared = label(kind="label")
        self.chart = DatesChart()
        self.card = EraseCard(self._erase)
        self.card.hide()
        self.measure.currentIndexChanged.connect(self._show_chart)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addWidget(self.none)
        column.addWidget(self.table)
        column.addWidget(row(self.report, self.print, self.progress, self.export, self.erase))
        column.addWidget(self.card)
        self.chart_head = row(self.measure, self.compared)
        column.addWidget(self.chart_head)
        column.addWidget(self.chart, 1)
        self.fill = QWidget()
        column.addWidget(self.fill, 1)

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Records: {name}").format(name=self._context.code_name)

    @property
    def _asked(self) -> str:
        """Whom a command is asked about: the id, which is one person's alone."""
        return self._context.person_id or str(self._context.profile or self._context.code_name)

    def enter(self, context: Context) -> None:
        """Read the store anew."""
        if self._asked_of(context) != self._asked:
            self._records = None
        self._context = context
        self.card.hide()
        self._show()
        self._load()

    def leave(self) -> bool:
        """What is being read is of no use any more."""
        if self._job is not None:
            self._job.cancel()
        return True

    def first_control(self) -> QWidget | None:
        """The table."""
        return self.table

    @staticmethod
    def _asked_of(context: Context) -> str:
        return context.person_id or str(context.profile or context.code_name)

    # ---- what is shown

    def _load(self) -> None:
        self.shell.busy(_("Reading records"))
        self._job = self.shell.jobs.run(["records", self._asked, "--json"], self._on_records)

    def _on_records(self, outcome: Outcome) -> None:
        self._job = None
        self.shell.busy("")
        if outcome.cancelled:
            return
        found = records_of(outcome.data()) if outcome.ok else None
        if found is None:
            self.shell.tell(outcome.what, outcome.then)
        self._records = found
        self._show()

    def _show(self) -> None:
        records = self._records
        sessions = () if records is None else records.sessions
        self.table.setRowCount(len(sessions))
        for number, one in enumerate(reversed(sessions)):  # the newest first
            for column, text in enumerate(self._cells(one)):
                item = QTableWidgetItem(text)
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                item.setData(Qt.ItemDataRole.UserRole, one.number)
                if column >= 3:
                    side = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                    item.setTextAlignment(side)
                self.table.setItem(number, column, item)
        if sessions:
            self.table.selectRow(0)
        self.table.setFixedHeight(34 + _ROW_PX * min(max(len(sessions), 2), _ROWS))
        self.none.setVisible(records is not None and not sessions)
        self.none.setText(_("There are no sessions of this person yet."))
        for control in (self.report, self.print, self.progress, self.export):
            control.setEnabled(bool(sessions))
        self.erase.setEnabled(records is not None and bool(sessions or records.files))
        trends = () if records is None else records.trends
        self.measure.blockSignals(True)
        self.measure.clear()
        for one_trend in trends:
            self.measure.addItem(one_trend.title)
        self.measure.blockSignals(False)
        self.chart_head.setVisible(bool(trends))
        self.chart.setVisible(bool(trends))
        self.fill.setVisible(not trends)
        if records is not None and records.view and records.belt_speed_kmh is not None:
            unit = self.shell.preferences.speed_unit
            speed = f"{speed_text(records.belt_speed_kmh, unit)} {unit}"
            text = _("Sessions {view}, at {speed}").format(
                view=choice_title(records.view), speed=speed
            )
            self.compared.setText(text)
        self._show_chart()

    def _cells(self, one: Session) -> tuple[str, ...]:
        unit = self.shell.preferences.speed_unit
        known = one.belt_speed_kmh
        return (
            one.day,
            one.kind,
            one.place,
            "" if known is None else f"{speed_text(known, unit)} {unit}",
            one.length,
            str(one.steps),
            "" if one.pain is None else str(one.pain),
            "" if one.effort is None else str(one.effort),
        )

    def _show_chart(self) -> None:
        trends = () if self._records is None else self._records.trends
        number = self.measure.currentIndex()
        self.chart.show_series(trends[number] if 0 <= number < len(trends) else None)

    @property
    def session_number(self) -> int | None:
        """The number of the session chosen, as ``beltside report --session`` counts."""
        item = self.table.item(self.table.currentRow(), 0)
        return None if item is None else int(item.data(Qt.ItemDataRole.UserRole))

    # ---- what is done

    def _open_report(self) -> None:
        self._write_report(self._open)

    def _print_report(self) -> None:
        self._write_report(lambda path: print_pdf(self, path, self.shell.tell))

    def _write_report(self, then: object) -> None:
        number = self.session_number
        if number is not None:
            words = ["report", self._asked, "--session", str(number)]
            self._write(words, then)

    def _open_progress(self) -> None:
        self._write(["progress", self._asked], self._open)

    def _write(self, words: list[str], then: object) -> None:
        """Have a page written, then do ``then`` with its PDF."""

        def done(outcome: Outcome) -> None:
            self.shell.busy("")
            written = [_written(line) for line in outcome.lines]
            pdf = next((path for path in written if path and path.suffix == ".pdf"), None)
            if outcome.ok and pdf is not None and callable(then):
                then(pdf)
            elif not outcome.cancelled:
                self.shell.tell(outcome.what, outcome.then)

        self.shell.busy(_("Writing the page"))
        self.shell.jobs.run(words, done)

    def _open(self, path: Path) -> None:
        if QDesktopServices.openUrl(QUrl.fromLocalFile(str(path))):
            self.shell.note(_("Opened: {path}").format(path=path))
        else:
            self.shell.tell(
                _("No program opens PDF files here."), _("It is in {path}").format(path=path)
            )

    def _export(self) -> None:
        kinds = {
            _("Table (*.csv)"): "csv",
            _("JSON (*.json)"): "json",
            _("FHIR (*.fhir.json)"): "fhir",
        }
        path, chosen = QFileDialog.getSaveFileName(
            self, _("Export all sessions"), f"{self._context.code_name}.csv", ";;".join(kinds)
        )
        if path:
            self.export_to(Path(path), kinds.get(chosen, "csv"))

    def export_to(self, path: Path, kind: str) -> None:
        """Write all sessions to a file."""
        ending = ".csv" if kind == "csv" else ".json"
        if path.suffix.lower() != ending:
            path = path.with_name(f"{path.stem}{ending}")

        def done(outcome: Outcome) -> None:
            if outcome.ok:
                said = _("Written: {path}. It contains health data.").format(path=path)
                self.shell.note(said)
            else:
                self.shell.tell(outcome.what, outcome.then)

        words = ["export", self._asked, "--out", str(path), "--format", kind]
        self.shell.jobs.run(words, done)

    def _ask_to_erase(self) -> None:
        if self._records is not None:
            self.card.ask(self._records)

    def _erase(self) -> None:
        name = self._context.code_name

        def done(outcome: Outcome) -> None:
            self.shell.busy("")
            if not outcome.ok:
                self.shell.tell(outcome.what, outcome.then)
                return
            said = " ".join(outcome.lines[1:]) or _("{name} is erased.").format(name=name)
            self.shell.open(PageName.PEOPLE, Context(note=said))

        self.card.hide()
        self.shell.busy(_("Erasing"))
        self.shell.jobs.run(["erase", self._asked, "--yes"], done)

    def _lay_out_table(self) -> QTableWidget:
        titles = [
            *(_("Date"), _("Session"), _("Camera"), _("Belt")),
            *(_("Time"), _("Steps"), _("Pain"), _("Effort")),
        ]
        table = QTableWidget(0, len(titles))
        table.setHorizontalHeaderLabels(titles)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        table.setTabKeyNavigation(False)
        table.setShowGrid(False)
        named(table, _("Sessions"), _("Enter: the report of the session chosen"))
        down, across = table.verticalHeader(), table.horizontalHeader()
        if down is not None and across is not None:
            down.hide()
            down.setDefaultSectionSize(_ROW_PX)
            across.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
            across.setSectionResizeMode(1, QHeaderView.ResizeMode.Stretch)
            across.setHighlightSections(False)
            across.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        table.activated.connect(lambda _: self._open_report())
        return table


def _written(line: str) -> Path | None:
    """The file that a line of the command names as written."""
    _said, colon, path = line.partition(": ")
    return Path(path) if (colon and path.startswith("/")) or ":\\" in path else None
