"""The check of this computer: each part with how it is and what to do, looked at anew on asking."""

from __future__ import annotations

import json
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QGridLayout, QVBoxLayout, QWidget

from feedback.screens.start.actions import Job, Outcome
from feedback.screens.start.model import Context
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, group, row
from feedback.screens.widgets.style import label, mark
from feedback.texts.selfcheck import CAN_HOLD, CANNOT_HOLD, PARTS, STANDINGS
from shared.language import _

WELL: Final = frozenset({"good", "missing"})
"""Nothing is wrong: what is missing only matters to those who want to use it."""


class CheckPage(Page):
    """Runs the check when it is shown first; a row appears as soon as its part was looked at."""

    help_topic = "settings"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._job: Job | None = None
        self.again = button(_("Check again"), self._check, first=True)
        self.said = label(kind="strong", wrap=True)
        self.standings = {part: label(kind="strong") for part in PARTS}
        self.found = {part: label(wrap=True) for part in PARTS}
        rows = QWidget()
        grid = QGridLayout(rows)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(20)
        grid.setVerticalSpacing(10)
        grid.setColumnStretch(2, 1)
        top = Qt.AlignmentFlag.AlignTop
        for line, (part, title) in enumerate(PARTS.items()):
            grid.addWidget(label(_(title)), line, 0, top)
            grid.addWidget(self.standings[part], line, 1, top)
            grid.addWidget(self.found[part], line, 2, top)
        # room for the longest word, so that the columns stay where they are
        widths = (label(_(word), "strong").sizeHint().width() for word in STANDINGS.values())
        grid.setColumnMinimumWidth(1, max(widths))
        about = label(
            _(
                "No sound is made, no picture is kept, and nothing is sent. End other programs "
                "that use the camera first."
            ),
            "label",
            wrap=True,
        )
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(14)
        column.addWidget(group(self.said, rows, about, row(self.again)))
        column.addStretch(1)

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Check of this computer")

    def enter(self, _context: Context) -> None:
        """Look at each part."""
        self._check()

    def leave(self) -> bool:
        """The camera is let go of."""
        if self._job is not None:
            self._job.cancel()
        return True

    def first_control(self) -> QWidget | None:
        """To look again."""
        return self.again

    def _check(self) -> None:
        if self._job is not None:
            return
        for part in PARTS:
            self.standings[part].setText("")
            self.found[part].setText(_("to be looked at"))
        self.said.setText(_("Looking at each part. This takes about ten seconds."))
        self.again.setEnabled(False)
        self._job = self.shell.jobs.run(
            ["selfcheck", "--json"], self._on_end, on_line=self._on_line
        )

    def _on_line(self, line: str) -> None:
        try:
            said = json.loads(line)
            part, standing, found = said["part"], said["standing"], said["found"]
            do = said.get("do", "")
        except (ValueError, KeyError, TypeError, AttributeError):
            return
        if part not in PARTS or standing not in STANDINGS:
            return
        self.standings[part].setText(_(STANDINGS[standing]))
        mark(self.standings[part], "well", standing in WELL)
        self.found[part].setText("\n".join(text for text in (str(found), str(do)) if text))

    def _on_end(self, outcome: Outcome) -> None:
        self._job = None
        self.again.setEnabled(True)
        looked = all(one.text() for one in self.standings.values())
        for part, one in self.standings.items():
            if not one.text():
                self.found[part].setText(_("not looked at"))
        if looked:
            self.said.setText(_(CAN_HOLD if outcome.ok else CANNOT_HOLD))
            return
        self.said.setText(_("The check ended before every part was looked at."))
        if not outcome.cancelled:
            self.shell.tell(outcome.what, outcome.then)
