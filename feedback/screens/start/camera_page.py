"""The page of the cameras: a picture of each, one on the network, a video; then the check."""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path
from typing import Final

from PyQt6.QtCore import QProcess
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import (
    QComboBox,
    QFileDialog,
    QGridLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from feedback.athlete_files.athletes import read_profile
from feedback.screens.start.actions import Outcome
from feedback.screens.start.camera_model import (
    clip_choice,
    device_choices,
    file_choice,
    stream_choice,
    view_title,
)
from feedback.screens.start.camera_tile import CameraTile
from feedback.screens.start.model import NOTHING, Context
from feedback.screens.start.page import Page, Shell
from feedback.screens.start.parts import button, row
from feedback.screens.widgets.style import label, named
from feedback.storage.camera_names import camera_names
from feedback.storage.cameras import (
    CameraChoice,
    CameraKind,
    found_again,
    remember_camera,
    remembered_camera,
)
from feedback.storage.place_files import place_path
from shared.flow import View
from shared.identity import id_of
from shared.language import _
from shared.problems import UserError

_COLUMNS: Final = 3
_NARROW_PX: Final = 760
"""Narrower than that, two stand side by side."""
_PROBE: Final = ("-m", "feedback.camera_check.preview", "--probe")


class CameraPage(Page):
    """Tiles with pictures; below them, the check of the chosen camera."""

    def __init__(self, shell: Shell) -> None:
        super().__init__(shell)
        self._context = NOTHING
        self._person_id = ""
        self._at_home = False
        self._columns = _COLUMNS
        self._probe: QProcess | None = None
        self.devices: tuple[tuple[int, str], ...] = ()
        self.chosen: CameraChoice | None = None
        self.view = QComboBox()
        named(self.view, _("Where the camera stands"), _("Seen from the runner"))
        for view in View:
            self.view.addItem(view_title(view), view)
        self.view.currentIndexChanged.connect(self._on_view)
        self.address = QLineEdit()
        self.address.setPlaceholderText("http://192.168.1.20:8080/video")
        named(self.address, _("Address of a network camera"), _("http, https or rtsp"))
        self.address.returnPressed.connect(self._connect)
        self.connect_button = button(_("Connect"), self._connect)
        self.pick = button(_("Choose a video"), self._pick)
        self.device_tiles: list[CameraTile] = []
        self.stream = CameraTile(
            _("Network camera"),
            lambda: self._choose(self.stream),
            more=row(self.address, self.connect_button, stretch=False),
            empty=_("A camera on the network, by its address."),
        )
        self.file = CameraTile(
            _("Video"),
            lambda: self._choose(self.file),
            more=row(self.pick, stretch=False),
            empty=_("A video file in place of a camera."),
        )
        self.clip = CameraTile(_("Bundled clip"), lambda: self._choose(self.clip))
        self.none = label(_("No camera is connected to this computer."), wrap=True)
        self.check = button(
            _("Check this camera"), self._check, _("Position, light and picture"), first=True
        )
        self.use = button(_("Use this camera"), self._use)
        self.state = label(wrap=True)
        self._grid = QGridLayout()
        self._grid.setSpacing(14)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(12)
        where: QLabel = label(_("Where the camera stands"), kind="label")
        where.setBuddy(self.view)
        column.addWidget(row(where, self.view))
        column.addWidget(self.none)
        column.addLayout(self._grid, 1)
        column.addWidget(self.state)
        column.addWidget(row(self.check, self.use))

    @property
    def title(self) -> str:
        """What stands over it."""
        if self._context.code_name:
            return _("Camera for {name}").format(name=self._context.code_name)
        return _("Camera")

    @property
    def tiles(self) -> tuple[CameraTile, ...]:
        """All that can be chosen, in the order that they are shown in."""
        return (*self.device_tiles, self.stream, self.file, self.clip)

    @property
    def wanted_view(self) -> View:
        """Where the camera is to stand."""
        return View(self.view.currentData())

    def enter(self, context: Context) -> None:
        """Show what is there now."""
        self._context = context
        self._person_id = context.person_id
        self.view.blockSignals(True)
        self.view.setCurrentIndex(list(View).index(self._first_view(context)))
        self.view.blockSignals(False)
        self.view.setEnabled(context.view is None)
        # At home the check is a part of every session.
        self._at_home = context.prescription is not None and context.profile is None
        self.check.setVisible(not self._at_home)
        self.chosen = None
        self._show_devices(camera_names())
        if not sys.platform.startswith("linux"):
            self._ask_for_devices()
        self._on_view()

    def leave(self) -> bool:
        """Let go of every camera."""
        self._let_go()
        return True

    def first_control(self) -> QWidget | None:
        """What is chosen already, else the first that can be."""
        for tile in self.tiles:
            if tile.button.isChecked():
                return self.use if self._at_home else self.check
        return next((tile.button for tile in self.tiles if tile.button.isEnabled()), None)

    # ---- what is there

    def _show_devices(self, devices: tuple[tuple[int, str], ...]) -> None:
        for tile in self.device_tiles:
            tile.stop()
            self._grid.removeWidget(tile)
            tile.deleteLater()
        self.devices = devices
        self.device_tiles = []
        for choice in device_choices(devices):
            tile = CameraTile("", lambda: None, choice)
            tile.button.clicked.connect(lambda _on, one=tile: self._choose(one))
            self.device_tiles.append(tile)
        self.none.setVisible(not devices)
        self._place_tiles()

    def _place_tiles(self) -> None:
        """Side by side, as many as there is room for."""
        columns = self._columns
        for number, tile in enumerate(self.tiles):
            self._grid.addWidget(tile, number // columns, number % columns)
            if number:
                QWidget.setTabOrder(self.tiles[number - 1].button, tile.button)
        for number in range(_COLUMNS):
            self._grid.setColumnStretch(number, 1 if number < columns else 0)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Fewer tiles side by side where there is less room."""
        super().resizeEvent(event)
        columns = _COLUMNS if self.width() >= _NARROW_PX else _COLUMNS - 1
        if columns != self._columns:
            self._columns = columns
            self._place_tiles()

    def _ask_for_devices(self) -> None:
        """Elsewhere than on Linux cameras have numbers only; a process of its own tries them."""
        self.none.setText(_("Looking for cameras."))
        self._probe = QProcess(self)
        self._probe.finished.connect(self._on_probed)
        self._probe.start(sys.executable, list(_PROBE))

    def _on_probed(self) -> None:
        process, self._probe = self._probe, None
        self.none.setText(_("No camera is connected to this computer."))
        if process is None or not self.isVisible():
            return
        found = []
        for line in process.readAllStandardOutput().data().splitlines():
            try:
                number = int(json.loads(line)["number"])
            except (ValueError, KeyError, TypeError):
                continue
            found.append((number, _("Camera {number}").format(number=number)))
        self._show_devices(tuple(found))
        for tile in self.device_tiles:
            tile.start()
        self._mark()

    def _on_view(self) -> None:
        """Another view has another camera, and another clip."""
        clip = clip_choice(self.wanted_view)
        self.clip.setVisible(clip is not None)
        self.clip.choice = None
        if clip is not None:
            self.clip.take(clip)
        kept = remembered_camera(self._person_id, self.wanted_view)
        self.chosen = None if kept is None else found_again(kept, self.devices)
        if kept is not None and self.chosen is None:
            self.shell.tell(
                _("{camera} is not connected.").format(camera=kept.name or kept.value),
                _("Connect it and open this page again, or choose another one."),
            )
        if self.chosen is not None and self.chosen.kind is CameraKind.STREAM:
            self.address.setText(self.chosen.value)
            self.stream.choice = self.chosen
        if self.chosen is not None and self.chosen.kind is CameraKind.FILE:
            self.file.choice = self.chosen
        for tile in self.tiles:
            if tile.choice is not None and not tile.picture.live:
                tile.take(tile.choice)
        self._mark()

    # ---- what is done

    def _choose(self, tile: CameraTile) -> None:
        if tile.choice is not None:
            self.chosen = tile.choice
            if not tile.picture.live:
                tile.start()
        self._mark()
        (self.use if self._at_home else self.check).setFocus()

    def _mark(self) -> None:
        for tile in self.tiles:
            tile.mark(chosen=tile.choice is not None and tile.choice == self.chosen)
        usable = self.chosen is not None
        self.check.setEnabled(usable)
        self.use.setEnabled(usable)
        self.state.setText(self._state_words())

    def _state_words(self) -> str:
        if self.chosen is None:
            return _("Choose a camera whose picture you see.")
        if self._at_home:
            return _("It is checked before you run.")
        if place_path(self.chosen.described, self.wanted_view).exists():
            return _(
                "This camera has passed its check in this place. Check it again when it moves."
            )
        return _("This camera has not been checked yet.")

    def _connect(self) -> None:
        choice = stream_choice(self.address.text())
        if choice is None:
            self.shell.tell(
                _("This is not the address of a camera."),
                _("It begins with http://, https:// or rtsp://; see the camera's own manual."),
            )
            return
        self.stream.take(choice)
        self._choose(self.stream)

    def _pick(self) -> None:
        path, _kind = QFileDialog.getOpenFileName(self, _("Choose a video"), str(Path.home()))
        choice = file_choice(path)
        if choice is not None:
            self.file.take(choice)
            self._choose(self.file)

    def _use(self) -> None:
        if self._remember():
            self._done(_("This camera is used from now on."))

    def _check(self) -> None:
        chosen = self.chosen
        if chosen is None or not self._remember():
            return
        self._let_go()
        self._enable(on=False)
        self.shell.busy(_("The camera check is open."))
        began_s = time.time()
        self.shell.jobs.run(
            ["check", "--view", self.wanted_view.value, *chosen.words],
            lambda outcome: self._checked(outcome, chosen, began_s),
            holds=True,
        )

    def _checked(self, outcome: Outcome, chosen: CameraChoice, began_s: float) -> None:
        self.shell.busy("")
        self._enable(on=True)
        if not self.isVisible():
            return
        path = place_path(chosen.described, self.wanted_view)
        if outcome.ok and path.exists() and path.stat().st_mtime >= began_s - 1:
            self._done(_("The camera is ready."))
            return
        if outcome.ok:
            self.shell.note(_("The camera check was closed; nothing was saved."))
        else:
            self.shell.tell(outcome.what, outcome.then)
        for tile in self.tiles:
            tile.start()
        self._mark()

    def _remember(self) -> bool:
        if self.chosen is None:
            return False
        try:
            remember_camera(self._person_id, self.wanted_view, self.chosen)
        except UserError as error:
            self.shell.tell(error.problem.title, f"{error.problem.meaning} {error.problem.action}")
            return False
        return True

    def _done(self, said: str) -> None:
        came_from = self._context.profile or self._context.prescription
        if came_from is not None:
            self.shell.back()
        else:
            for tile in self.tiles:
                if not tile.picture.live:
                    tile.start()
            self._mark()
        self.shell.note(said)

    def _enable(self, *, on: bool) -> None:
        for part in (self.check, self.use, self.view, self.address, self.connect_button, self.pick):
            part.setEnabled(on)
        self.view.setEnabled(on and self._context.view is None)

    def _let_go(self) -> None:
        for tile in self.tiles:
            tile.stop()
        if self._probe is not None:
            self._probe.kill()

    def _first_view(self, context: Context) -> View:
        """As asked for, else as in the profile, which says whose camera it is, too."""
        found = View.SIDE
        if context.profile is not None:
            try:
                athlete = read_profile(context.profile).athlete
            except UserError:
                pass  # told where the profile is shown
            else:
                self._person_id, found = id_of(athlete), athlete.view
        return context.view or found
