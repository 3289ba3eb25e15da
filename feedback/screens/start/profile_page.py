"""All fields of a runner's profile. The file stays what it is: text that can be edited by hand."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Any, Final

from PyQt6.QtCore import QFileSystemWatcher, QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import QScrollArea, QVBoxLayout, QWidget

from feedback.athlete_files.athletes import bundled_folder
from feedback.athlete_files.profile_edit import (
    Where,
    check_text,
    fields_in,
    put_in,
    read_text,
    save_text,
)
from feedback.screens.start.form import Form
from feedback.screens.start.form_model import LIMITS, RUNNER, TARGET
from feedback.screens.start.model import Context
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, group, heading, row, scrolled, words
from feedback.screens.widgets.style import label
from shared.catalogue import CATALOGUE
from shared.language import _
from shared.problems import UserError

_NEW_TARGET: Final[dict[str, Any]] = {
    "measure": "cadence",
    "unit": "steps/min",
    "low": 165.0,
    "high": 175.0,
}


class ProfilePage(Page):
    """A form of the whole file; what is wrong is said before it can be saved."""

    help_topic = "start-window"
    scrolls = False

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._path = Path()
        self._read = self._draft = ""
        self._code_name = ""
        self._watcher = QFileSystemWatcher(self)
        self._watcher.fileChanged.connect(self._on_file)
        self._watcher.directoryChanged.connect(self._on_file)
        self.save = button(_("Save"), self._save, first=True)
        self.discard = button(_("Discard changes"), self._reread)
        self.by_hand = button(
            _("Open the file"), self._open_file, _("In the system's own text editor")
        )
        self.state = label(wrap=True)
        self._place = QVBoxLayout()
        self._area: QScrollArea | None = None
        self.forms: list[Form] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addLayout(self._place, 1)
        column.addWidget(self.state)
        column.addWidget(row(self.save, self.discard, self.by_hand))

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Profile: {name}").format(name=self._code_name or self._path.stem)

    def enter(self, context: Context) -> None:
        """Read the file."""
        if context.profile is not None:
            self._path = context.profile
        self._code_name = context.code_name
        watched = [*self._watcher.files(), *self._watcher.directories()]
        if watched:
            self._watcher.removePaths(watched)
        self._watcher.addPaths([str(self._path), str(self._path.parent)])
        self._reread()

    def leave(self) -> bool:
        """Not while there are changes that are neither saved nor discarded."""
        if self.is_changed:
            self.shell.tell(
                _("Your changes are not saved."), _("Save them, or discard them, then go on.")
            )
            self.save.setFocus()
            return False
        return True

    def first_control(self) -> QWidget | None:
        """The first field."""
        return self.forms[0].controls["code_name"] if self.forms else self.by_hand

    @property
    def is_changed(self) -> bool:
        """Whether anything was changed here and is not saved."""
        return self._draft != self._read

    @property
    def is_example(self) -> bool:
        """Whether it comes with the program, which would put it back."""
        return self._path.parent == bundled_folder()

    # ---- the file

    def _reread(self) -> None:
        try:
            self._read = self._draft = read_text(self._path)
        except UserError as error:
            self._read = self._draft = ""
            self._tell(error)
        self._build()

    def _on_file(self, _path: str = "") -> None:
        """Somebody may have changed the file: an editor, another program, or this page."""
        if str(self._path) not in self._watcher.files() and self._path.is_file():
            self._watcher.addPath(str(self._path))  # it was replaced, as editors do
        if not self.isVisible():
            return
        try:
            now = read_text(self._path)
        except UserError:
            return
        if now == self._read:
            return
        if self.is_changed:
            self.shell.tell(
                _("This file was changed elsewhere."),
                _("Saving would lose those changes. Discard yours to see them."),
            )
            return
        self._reread()
        self.shell.note(_("The file was changed elsewhere and has been read again."))

    def _save(self) -> None:
        try:
            check_text(self._draft, self._path)
            save_text(self._path, self._draft, self._read)
        except UserError as error:
            self._tell(error)
            return
        self._read = self._draft
        self._check()
        self.shell.note(_("Saved."))

    def _open_file(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._path)))

    def _tell(self, error: UserError) -> None:
        problem = error.problem
        self.shell.tell(problem.title, f"{problem.meaning} {problem.action}")

    # ---- the form

    def _build(self) -> None:
        """Make the form of what stands in the draft."""
        at = 0
        if self._area is not None:
            bar = self._area.verticalScrollBar()
            at = 0 if bar is None else bar.value()
            self._place.removeWidget(self._area)
            self._area.deleteLater()
        self.forms = []
        inside = QWidget()
        inside.setObjectName("inside")
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 12, 0)
        column.setSpacing(14)
        try:
            self._fill(column, fields_in(self._draft, self._path))
        except UserError as error:
            column.addWidget(words(f"{error.problem.title} {error.problem.action}"))
        column.addStretch(1)
        self._area = scrolled(inside)
        self._place.addWidget(self._area)
        bar = self._area.verticalScrollBar()
        if at and bar is not None:
            inside.adjustSize()
            bar.setValue(at)
        self._check()

    def _fill(self, column: QVBoxLayout, table: dict[str, Any]) -> None:
        def form(specs: Any, values: Any, place: Where) -> Form:
            found = values if isinstance(values, dict) else {}
            made = Form(specs, found, place, self._on_change, self.shell.preferences)
            self.forms.append(made)
            return made

        if self.is_example:
            column.addWidget(words(_("This example comes with the program and stays as it is.")))
        column.addWidget(group(heading(_("Runner")), form(RUNNER, table, ())))
        targets = table.get("targets")
        for number, one in enumerate(targets if isinstance(targets, list) else ()):
            title = _("Target {number}").format(number=number + 1)
            remove = button(
                _("Remove target {number}").format(number=number + 1),
                partial(self._remove, number),
            )
            column.addWidget(
                group(heading(title), form(TARGET, one, ("targets", number)), row(remove))
            )
        add = button(_("Add a target"), self._add)
        about = words(
            _("A prescription sets targets from the runner's baseline; none is needed here."),
            "label",
        )
        column.addWidget(group(row(add), about))
        limits = form(LIMITS, table.get("limits"), ("limits",))
        column.addWidget(group(heading(_("Limits")), limits))

    def _on_change(self, where: Where, value: Any) -> None:
        try:
            self._draft = put_in(self._draft, self._path, {where: value})
        except UserError as error:
            self._tell(error)
            return
        if where[-1] == "measure":
            unit = (*where[:-1], "unit")
            self._draft = put_in(self._draft, self._path, {unit: _first_unit(value)})
            self._build()
            return
        self._check()

    def _add(self) -> None:
        targets = fields_in(self._draft, self._path).get("targets", [])
        self._draft = put_in(self._draft, self._path, {("targets", len(targets)): _NEW_TARGET})
        self._build()
        self.forms[-2].controls["measure"].setFocus()

    def _remove(self, number: int) -> None:
        self._draft = put_in(self._draft, self._path, {("targets", number): None})
        self._build()

    def _check(self) -> None:
        """Say what is wrong with the draft, before it is saved."""
        why = ""
        try:
            check_text(self._draft, self._path)
        except UserError as error:
            problem = error.problem
            why = f"{problem.title} {problem.action}".replace(str(self._path), self._path.name)
        self.state.setText(why)
        self.state.setProperty("well", "false" if why else "true")
        look = self.state.style()
        if look is not None:
            look.unpolish(self.state)
            look.polish(self.state)
        usable = not why and not self.is_example
        self.save.setEnabled(usable and self.is_changed)
        self.discard.setEnabled(self.is_changed)


def _first_unit(measure: object) -> str | None:
    return CATALOGUE[measure].units[0] if measure in CATALOGUE else None
