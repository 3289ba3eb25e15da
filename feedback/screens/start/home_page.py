"""Your session: what whoever opened a prescription file needs, and nothing else."""

from __future__ import annotations

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QUrl
from PyQt6.QtGui import QDesktopServices
from PyQt6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from feedback.athlete_files.plan_log import read_log
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.todays_session import todays_session
from feedback.screens.start.actions import Outcome
from feedback.screens.start.camera_model import title_of
from feedback.screens.start.later import Later
from feedback.screens.start.model import NOTHING, Context, PageName
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row
from feedback.screens.widgets.design import HEAD_PX
from feedback.screens.widgets.placement import PlacementPicture
from feedback.screens.widgets.style import label, named
from feedback.storage.camera_names import camera_names
from feedback.storage.cameras import (
    CameraChoice,
    CameraKind,
    found_again,
    remembered_camera,
)
from feedback.storage.folders import DataFolder, own_folder
from feedback.texts.home import tell
from feedback.texts.training import place_in_plan, reasons_in_words
from shared.identity import id_of
from shared.language import _
from shared.problems import UserError
from shared.targets import Prescription
from shared.units import NS_PER_S

_LARGE: Final = f"font-size: {HEAD_PX}px;"


@dataclass(frozen=True, slots=True)
class Today:
    """What the page says before the run."""

    prescription: Prescription
    heading: str
    texts: tuple[str, ...]
    camera: CameraChoice | None


class HomePage(Page):
    """Three states: what is due and where the laptop goes; the run; the file to send."""

    help_topic = "home"

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._context = NOTHING
        self._today: Today | None = None
        self._heading = _("Your session")
        self.result: Path | None = None
        self._shown_for: Path | None = None
        self._later = Later[Today](self._on_read, self._on_failed)
        self.texts = label(wrap=True)
        self.texts.setStyleSheet(_LARGE)
        self.where = label(wrap=True)
        self.where.setStyleSheet(_LARGE)
        self.camera = label(wrap=True)
        self.camera.setStyleSheet(_LARGE)
        self.picture = PlacementPicture()
        self.picture.setMinimumHeight(260)
        self.start = button(_("Start"), self._start, first=True)
        self.other = button(_("Another camera"), self._open_camera)
        self.folder = button(_("Show the file in its folder"), self._show_folder, first=True)
        self.again = button(_("Back to the beginning"), self._begin_again)
        for one in (self.start, self.other, self.folder, self.again):
            one.setStyleSheet(f"font-size: {HEAD_PX}px; min-height: 52px; padding: 4px 24px;")
        self._lay_out()

    @property
    def title(self) -> str:
        """What stands over it."""
        return self._heading

    def enter(self, context: Context) -> None:
        """Read the file anew; after Back it is still the same one."""
        self._context = context
        if context.prescription != self._shown_for:
            self._today, self.result = None, None
            self._shown_for = context.prescription
        self._read()

    def first_control(self) -> QWidget | None:
        """What is next."""
        return self.folder if self.result is not None else self.start

    def _read(self) -> None:
        path = self._context.prescription
        if path is not None:
            self._later.ask(lambda: read_today(path))
        self._show()

    def _on_read(self, today: Today) -> None:
        self._today = today
        self._show()
        if self.isVisible() and self.start.isVisible():
            self.start.setFocus()

    def _on_failed(self, error: UserError) -> None:
        self._today = None
        self._show()
        self._head(error.problem.title)
        self.texts.setText(f"{error.problem.meaning} {error.problem.action}")

    # ---- what is shown

    def _show(self) -> None:
        today, done = self._today, self.result
        running = self.shell.jobs.held
        before = today is not None and done is None and not running
        for part in (self.where, self.camera, self.picture, self.start, self.other):
            part.setVisible(before)
        self.folder.setVisible(done is not None)
        self.again.setVisible(done is not None)
        if done is not None:
            key = "trial" if done.stem.endswith("-trial") else "result"
            self._head(tell(key))
            self.texts.setText("\n\n".join((done.name, tell(f"{key}_how"))))
        elif running:
            self._head(_("Your session is open"))
            self.texts.setText(_("Follow what the screen says. It comes back here at the end."))
        elif today is None:
            self._head(tell("moment"))
            self.texts.setText("")
        else:
            self._head(today.heading)
            self.texts.setText("\n".join(today.texts))
            view = today.prescription.view
            self.where.setText(tell(f"camera_{view}"))
            self.picture.show_view(view)
            self.camera.setText(
                _("Camera: {camera}").format(camera=title_of(today.camera))
                if today.camera is not None
                else _("Choose the camera first.")
            )
            self.start.setText(_("Start") if today.camera is not None else _("Choose the camera"))
            named(self.start, self.start.text())
            self.other.setVisible(today.camera is not None)

    def _head(self, text: str) -> None:
        self._heading = text
        if self.isVisible():
            self.shell.retitle()

    # ---- what is done

    def _start(self) -> None:
        today, path = self._today, self._context.prescription
        if today is None or path is None:
            return
        if today.camera is None:
            self._open_camera()
            return
        began_s = time.time()
        self.shell.note("")
        self.shell.jobs.run(
            ["home", str(path), *today.camera.words, "--led", "--ask-cautions"],
            lambda outcome: self._ended(outcome, began_s),
            holds=True,
        )
        self._show()

    def _ended(self, outcome: Outcome, began_s: float) -> None:
        self.result = newest_result(own_folder(DataFolder.RESULTS), began_s)
        self._read()
        if not outcome.ok and not outcome.cancelled:
            self.shell.tell(outcome.what, outcome.then)
        elif self.result is None:
            self.shell.note(_("Nothing was started."))
        if self.isVisible() and self.result is not None:
            self.folder.setFocus()

    def _open_camera(self) -> None:
        today = self._today
        if today is None:
            return
        one = today.prescription
        context = Context(
            person_id=id_of(one),
            code_name=one.code_name,
            prescription=self._context.prescription,
            view=one.view,
        )
        self.shell.open(PageName.CAMERA, context)

    def _show_folder(self) -> None:
        if self.result is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(self.result.parent)))

    def _begin_again(self) -> None:
        self.result = None
        self._read()

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.setSpacing(20)
        for part in (self.texts, self.where, self.camera):
            left.addWidget(part)
        left.addStretch(1)
        left.addWidget(row(self.start, self.other))
        left.addWidget(row(self.folder, self.again))
        self.picture.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(24)
        line.addLayout(left, 3)
        line.addWidget(self.picture, 2)


def read_today(path: Path) -> Today:
    """What is due by this file. Raises UserError for a file that may not be run."""
    prescription = read_prescription(path)
    today = todays_session(prescription, read_log(prescription), int(time.time()), None, 1.0)
    minutes = max(1, round(today.planned_ns / (60 * NS_PER_S)))
    texts = [
        tell("today_length", minutes=minutes, speed=f"{prescription.belt_speed_kmh:g}"),
    ]
    if today.reasons:
        texts.append(tell("today_no_progress", reasons=reasons_in_words(today.reasons)))
    if prescription.plan is None:
        heading = tell("today", number=today.number)
    else:
        heading = tell("today_of", place=place_in_plan(prescription.plan, today.number))
    return Today(prescription, heading, tuple(texts), _camera(prescription))


def newest_result(folder: Path, since_s: float) -> Path | None:
    """The result that was written after that time; None where none was."""
    found = [path for path in folder.glob("*.json") if path.stat().st_mtime >= since_s - 1]
    return max(found, key=lambda path: path.stat().st_mtime, default=None)


def _camera(prescription: Prescription) -> CameraChoice | None:
    """The one used last; else the only one of this computer."""
    devices = camera_names()
    kept = remembered_camera(id_of(prescription), prescription.view)
    if kept is not None:
        return found_again(kept, devices)
    if len(devices) != 1:
        return None
    number, name = devices[0]
    return CameraChoice(kind=CameraKind.DEVICE, value=str(number), name=name)
