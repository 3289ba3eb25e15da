"""A video file, measured as a session would be, with a report of its own."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import QComboBox, QFileDialog, QVBoxLayout, QWidget

from feedback.athlete_files.athletes import read_profile
from feedback.screens.start.actions import Job, Outcome
from feedback.screens.start.fields import Entry, length_entry, speed_entry
from feedback.screens.start.model import Context
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row, words
from feedback.screens.widgets.style import label, named
from feedback.texts.profile_fields import choice_title
from shared.flow import View
from shared.language import _
from shared.problems import UserError

_NOTHING_MEASURED: Final = 3
_VIDEOS: Final = "*.mp4 *.mov *.avi *.mkv *.webm *.m4v"


class VideoPage(Page):
    """Which file, from where it was filmed, and for lengths in cm the height and belt speed."""

    help_topic = "video"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._job: Job | None = None
        self._report: Path | None = None
        self.file = Entry(_("Video file"), _("One person running on a treadmill."))
        self.file.edit.setFixedWidth(520)
        self.choose = button(_("Choose a file"), self._choose)
        self.view = QComboBox()
        named(self.view, _("Camera"), _("Where it stood, seen from the runner"))
        for one in View:
            self.view.addItem(choice_title(one.value), one.value)
        self.tall = length_entry(shell.preferences.length_unit)
        self.speed = speed_entry(shell.preferences.speed_unit)
        self.start = button(_("Measure"), self._start, first=True)
        self.cancel = button(_("Cancel"), self._cancel)
        self.open_report = button(_("Open report"), self._open, first=True)
        self.said = label(wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        optional = _("Without height and belt speed, lengths are in % of leg length.")
        camera = label(_("Camera"), kind="title")
        camera.setBuddy(self.view)
        for part in (
            *(self.file, row(self.choose), camera, row(self.view)),
            *(words(optional, "label"), self.tall, self.speed),
            *(row(self.start, self.cancel, self.open_report), self.said),
        ):
            column.addWidget(part)
        column.addStretch(1)
        self._allow()

    @property
    def title(self) -> str:
        """What stands over it."""
        return _("Measure a video")

    def enter(self, context: Context) -> None:
        """Take height, speed and view of whoever it is about."""
        self.tall.use_unit(self.shell.preferences.length_unit)
        self.speed.use_unit(self.shell.preferences.speed_unit)
        if context.profile is not None:
            with contextlib.suppress(UserError):
                athlete = read_profile(context.profile).athlete
                self.tall.show_value(athlete.height_cm)
                self.speed.show_value(athlete.belt_speed_kmh)
                self.view.setCurrentIndex(self.view.findData(athlete.view.value))
        self._allow()

    def leave(self) -> bool:
        """What is being measured is given up."""
        self._cancel()
        return True

    def first_control(self) -> QWidget | None:
        """The way to a file."""
        return self.choose

    def _choose(self) -> None:
        kinds = _("Videos ({endings})").format(endings=_VIDEOS)
        path, _kind = QFileDialog.getOpenFileName(self, _("Choose a video"), "", kinds)
        if path:
            self.file.edit.setText(path)
            self.file.wrong("")

    def words(self) -> list[str] | None:
        """The command's words; None where a field is wrong, which is said."""
        path = Path(self.file.edit.text().strip()).expanduser()
        self.file.wrong("" if path.is_file() else _("There is no such file."))
        typed = ["measure", str(path), "--view", str(self.view.currentData())]
        well = not self.file.is_wrong
        for entry, option in ((self.tall, "--height-cm"), (self.speed, "--belt-kmh")):
            if not entry.edit.text().strip():
                entry.wrong("")
                continue
            value = entry.value()
            well = well and value is not None
            typed += [] if value is None else [option, f"{value:g}"]
        if not well:
            return None
        self._report = path.with_name(f"{path.stem}-measures.pdf")
        return [*typed, "--out", str(self._report)]

    def _start(self) -> None:
        typed = self.words()
        if typed is None:
            return
        self.said.setText(_("Measuring. A long video takes about as long as it lasts."))
        self.shell.busy(_("Measuring"))
        self._job = self.shell.jobs.run(typed, self._on_ended)
        self._allow()

    def _on_ended(self, outcome: Outcome) -> None:
        self._job = None
        self.shell.busy("")
        written = outcome.code in (0, _NOTHING_MEASURED) and not outcome.errors
        if not written:
            self._report = None
        if outcome.cancelled:
            self.said.setText("")
        elif written:
            where = _("The report is {path}").format(path=self._report)
            self.said.setText("\n".join([*_account(outcome.lines), where]))
        else:
            self.said.setText("")
            self.shell.tell(outcome.what, outcome.then)
        self._allow()

    def _cancel(self) -> None:
        if self._job is not None:
            self._job.cancel()

    def _open(self) -> None:
        if self._report is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._report)))

    def _allow(self) -> None:
        self.start.setEnabled(self._job is None)
        self.cancel.setVisible(self._job is not None)
        self.open_report.setVisible(self._job is None and self._report is not None)


def _account(lines: tuple[str, ...]) -> list[str]:
    """What the command said below its table."""
    first = next((at for at, line in enumerate(lines) if " frames in " in line), 0)
    return [line for line in lines[first:] if not line.startswith("Written: ")]
