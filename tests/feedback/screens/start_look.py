"""Checks of the start window's pages on real windows, in a process of their own."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from unittest import mock

import numpy as np
from PyQt6.QtWidgets import QApplication

from feedback.screens.start import camera_page
from feedback.screens.start.camera_model import file_choice
from feedback.screens.start.camera_page import CameraPage
from feedback.screens.start.model import PageName, Place
from feedback.screens.start.sound_model import SPOKEN
from feedback.screens.start.sound_page import SoundPage
from feedback.screens.start.window import StartWindow
from feedback.screens.widgets.application import make_app
from feedback.storage.cameras import CameraChoice, CameraKind, remembered_camera
from feedback.storage.preferences import read_preferences
from shared.flow import View
from tests.feedback.screens.looking import report
from tests.live.camera.mjpeg_server import MjpegServer
from tests.pulse import Recorder

PATIENCE_S: Final = 30.0


def until(true: Callable[[], bool]) -> None:
    """Let the window work until that holds."""
    deadline = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < deadline, "it never came"
        QApplication.processEvents()
        time.sleep(0.01)


def opened(page: PageName) -> tuple[StartWindow, Any]:
    """The window on that page."""
    window = StartWindow(Place(page))
    window.resize(1366, 768)
    window.show()
    return window, window.page


def children() -> set[int]:
    """Processes that this one has started."""
    listed = Path(f"/proc/self/task/{os.getpid()}/children").read_text()
    return {int(pid) for pid in listed.split()}


def the_clip_and_a_network_camera_are_seen_and_let_go_of() -> None:
    """Each in a process of its own, which is gone before anything else takes the camera."""
    before = children()
    window, page = opened(PageName.CAMERA)
    assert isinstance(page, CameraPage)
    with MjpegServer() as server:
        page.address.setText(server.url)
        page.connect_button.click()
        until(lambda: page.stream.picture.shown > 1 and page.clip.picture.shown > 1)
        assert page.chosen == CameraChoice(kind=CameraKind.STREAM, value=server.url)
        assert page.check.isEnabled()
        assert len(children() - before) == 2, "each picture comes from a process of its own"
        page.clip.button.click()
        assert page.chosen == CameraChoice(kind=CameraKind.CLIP, value="side")
        assert not page.stream.button.isChecked()
        page.use.click()
        assert remembered_camera("", View.SIDE) == page.chosen
        assert page.leave()
        assert children() == before, "no camera is held once another page is shown"
        assert not page.clip.picture.live
    window.close()


def why_there_is_no_picture_is_said() -> None:
    """In a line, without a traceback."""
    window, page = opened(PageName.CAMERA)
    page.address.setText("not an address")
    page.connect_button.click()
    assert "address" in window.told_title.text()
    with tempfile.TemporaryDirectory() as folder:
        page.file.take(file_choice(str(Path(folder) / "none.mp4")))
        until(lambda: "none.mp4" in page.file.picture.text())
    assert "Traceback" not in page.file.picture.text()
    window.close()


def cameras_by_name_and_one_that_is_gone() -> None:
    """Whoever had a camera that is not connected is told so, and chooses another."""
    window, page = opened(PageName.CAMERA)
    with mock.patch.object(camera_page, "camera_names", return_value=((7, "Desk camera"),)):
        page.enter(window.history.now.context)
        assert [tile.button.text() for tile in page.device_tiles] == ["Desk camera"]
        page.device_tiles[0].button.click()
        page.use.click()
    with mock.patch.object(camera_page, "camera_names", return_value=()):
        page.enter(window.history.now.context)
    assert page.chosen is None
    assert "Desk camera" in window.told_title.text()
    assert not page.check.isEnabled()
    window.close()


def heard_when_tried(page: SoundPage, key: str) -> tuple[float, float]:
    """Energy on the left and on the right, of what that button plays."""
    recorder = Recorder(dict(os.environ))
    recorder.start()
    page.tries[key].click()
    assert not page.tries[key].isEnabled()
    until(page.tries[key].isEnabled)
    energy = np.sum(np.square(recorder.finish().samples.astype(np.float64)), axis=0)
    return float(energy[0]), float(energy[1])


def what_is_tried_is_heard_where_it_is_said() -> None:
    """Recorded from the output that this process was given."""
    window, page = opened(PageName.SOUND)
    assert isinstance(page, SoundPage)
    page.volume.setValue(80)
    assert read_preferences().volume_percent == 80
    assert page.percent.text() == "80 %"
    until(lambda: page.output.count() > 1)  # the outputs of this computer came
    levels: dict[str, tuple[float, float]] = {}
    for key in ("out_low_left", "out_low", "out_low_right", SPOKEN):
        levels[key] = heard_when_tried(page, key)
    left, right = levels["out_low_left"]
    assert left > 4 * right, levels
    left, right = levels["out_low_right"]
    assert right > 4 * left, levels
    page.volume.setValue(20)
    soft = heard_when_tried(page, "out_low")
    assert 0.8 < soft[0] / levels["out_low"][0] / (20 / 80) ** 2 < 1.25, (soft, levels)
    warned = heard_when_tried(page, "warning")
    page.volume.setValue(10)
    assert 0.9 < heard_when_tried(page, "warning")[0] / warned[0] < 1.1, "it keeps its floor"
    for key in ("out_low", SPOKEN):
        left, right = levels[key]
        assert left > 0, levels
        assert abs(left - right) < 0.1 * left, levels
    window.close()


CHECKS: Final = {
    check.__name__: check
    for check in (
        the_clip_and_a_network_camera_are_seen_and_let_go_of,
        why_there_is_no_picture_is_said,
        cameras_by_name_and_one_that_is_gone,
        what_is_tried_is_heard_where_it_is_said,
    )
}

if __name__ == "__main__":
    _app = make_app()
    report(CHECKS)
