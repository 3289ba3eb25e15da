"""A new runner: code name, height and belt speed. All else is measured, or added later."""

from __future__ import annotations

from PyQt6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from feedback.athlete_files.profile_edit import save_new
from feedback.screens.start.fields import Entry, length_entry, speed_entry
from feedback.screens.start.model import Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row, words
from feedback.screens.widgets.style import label
from shared.language import _
from shared.problems import UserError


class NewRunnerPage(Page):
    """A form with three fields."""

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self.name = Entry(
            _("Code name"),
            _("1 to 40 letters and digits. Not the real name: it is shown on the screen."),
        )
        self.tall = length_entry(shell.preferences.length_unit)
        self.speed = speed_entry(shell.preferences.speed_unit)
        self.save = button(_("Save and go on"), self._save, first=True)
        self.only_save = button(_("Save only"), self._only_save)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(14)
        column.addWidget(
            words(_("Three things to begin with. The rest is measured when the runner runs."))
        )
        for entry in (self.name, self.tall, self.speed):
            column.addWidget(entry)
            entry.edit.returnPressed.connect(self._on_return)
        column.addWidget(row(self.save, self.only_save))
        column.addWidget(label())
        column.addStretch(1)

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("New runner")

    def enter(self, _context: Context) -> None:
        """An empty form, in the units preferred now."""
        self.tall.use_unit(self.shell.preferences.length_unit)
        self.speed.use_unit(self.shell.preferences.speed_unit)
        for entry in (self.name, self.tall, self.speed):
            entry.edit.clear()
            entry.wrong("")

    def first_control(self) -> QWidget | None:
        """The name."""
        return self.name.edit

    def _on_return(self) -> None:
        """Enter goes to the next field that is empty, from the last one it saves."""
        for entry in (self.name, self.tall, self.speed):
            if not entry.edit.text().strip():
                entry.edit.setFocus()
                return
        self._save()

    def _save(self) -> None:
        if (made := self._saved()) is not None:
            self.shell.back()  # from the next page Back leads to the list, not to an empty form
            self.shell.open(PageName.WAY, made)

    def _only_save(self) -> None:
        if (made := self._saved()) is not None:
            self.shell.back()
            self.shell.note(_("{name} is saved.").format(name=made.code_name))

    def _saved(self) -> Context | None:
        """The runner's profile, once it is saved; None where a field is still wrong."""
        name = " ".join(self.name.edit.text().split())
        height, speed = self.tall.value(), self.speed.value()
        self.name.wrong("" if name else _("A name is needed."))
        first = next((e for e in (self.name, self.tall, self.speed) if e.is_wrong), None)
        if first is not None or height is None or speed is None:
            edit: QLineEdit = (first or self.name).edit
            edit.setFocus()
            edit.selectAll()
            return None
        try:
            path = save_new(name, height, speed)
        except UserError as error:
            self.shell.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")
            return None
        return Context(profile=path, code_name=name)
