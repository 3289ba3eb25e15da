"""Asks twice before all of a person is erased, and says what goes."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtWidgets import QFrame, QVBoxLayout

from feedback.screens.start.fields import Entry
from feedback.screens.start.parts import button, heading, row
from feedback.screens.start.records_model import Records
from feedback.screens.widgets.style import card, label
from shared.language import _, _n


class EraseCard(QFrame):
    """First the code name has to be typed, then one more button be pressed."""

    def __init__(self, erase: Callable[[], None]) -> None:
        super().__init__()
        card(self)
        self._erase = erase
        self._name = ""
        self.what = label(wrap=True)
        self.name = Entry(_("Type the code name"))
        self.go_on = button(_("Continue"), self._go_on)
        self.really = button(_("Erase for good"), self._really)
        self.cancel = button(_("Keep everything"), self.hide, first=True)
        self.last = label(wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 20, 18)
        column.addWidget(heading(_("Erase all of this person")))
        for part in (self.what, self.name, self.last):
            column.addWidget(part)
        column.addWidget(row(self.go_on, self.really, self.cancel))
        self.name.edit.textChanged.connect(self._on_typed)
        self.name.edit.returnPressed.connect(self._go_on)

    def ask(self, records: Records) -> None:
        """Say what goes, and ask for the name."""
        self._name = records.code_name
        sessions = len(records.sessions)
        said = [
            _n("{count} session", "{count} sessions", sessions).format(count=sessions),
            _n("{count} file", "{count} files", records.files).format(count=records.files),
        ]
        self.what.setText(
            _(
                "{sessions} and {files} of {name} will be erased: records, baselines, "
                "prescriptions, results, reports and the profile kept here. They cannot be "
                "brought back. Files you have exported or sent stay where they are."
            ).format(sessions=said[0], files=said[1], name=records.code_name)
        )
        self.name.edit.clear()
        self._on_typed("")
        self.show()
        self.name.edit.setFocus()

    def _on_typed(self, text: str) -> None:
        self.go_on.setEnabled(text.strip() == self._name)
        self.go_on.show()
        self.really.hide()
        self.last.setText("")

    def _go_on(self) -> None:
        if not self.go_on.isEnabled():
            return
        self.last.setText(_("Erase {name} for good?").format(name=self._name))
        self.go_on.hide()
        self.really.show()
        self.cancel.setFocus()

    def _really(self) -> None:
        if self.name.edit.text().strip() == self._name:
            self._erase()
