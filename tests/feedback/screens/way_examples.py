"""The start window on the pages of one runner's way, of the camera, of sound and at home."""

from __future__ import annotations

import contextlib
import os
import tempfile
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

from PyQt6.QtWidgets import QApplication, QWidget

from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.next_step import NextKind, NextStep
from feedback.athlete_files.prescriptions import prescribe, write_prescription
from feedback.screens.start.home_page import HomePage
from feedback.screens.start.model import Context, PageName, Place
from feedback.screens.start.way import way_of
from feedback.screens.start.way_files import WayFound
from feedback.screens.start.way_page import WayPage
from feedback.screens.start.window import StartWindow
from feedback.storage.cameras import CameraChoice, CameraKind
from feedback.storage.folders import DataFolder, bundled_folder
from feedback.training.goals import goals_for
from shared.flow import View
from shared.targets import Athlete
from tests.feedback.training.making import UTC, baseline

CLIP = CameraChoice(kind=CameraKind.CLIP, value="side")
STEPS = {
    "camera": NextStep(NextKind.BASELINE),
    "baseline": NextStep(NextKind.BASELINE),
    "targets": NextStep(NextKind.PRESCRIBE),
    "today": NextStep(NextKind.SESSION, Path("one.toml"), "3 of 8"),
    "again": NextStep(NextKind.REPEAT, Path("one.toml"), "3 of 8", ("hold_pain_over",)),
    "complete": NextStep(NextKind.FINISHED, Path("one.toml")),
}
_PATIENCE_S = 15.0


def windows(width: int, height: int) -> Iterator[tuple[str, QWidget]]:
    """Name of the state, and a window that shows it."""
    with tempfile.TemporaryDirectory() as folder, own_data(Path(folder)):
        for name in STEPS:
            yield f"way_{name}", _way(name, width, height)
        for page in (PageName.CAMERA, PageName.SOUND):
            window = _opened(Place(page), width, height)
            if page is PageName.CAMERA:
                shown: Any = window.page
                shown.clip.button.click()
                _wait(partial(_has_picture, shown))
            yield page.value, window
        yield from _home(Path(folder), width, height)


@contextlib.contextmanager
def own_data(folder: Path) -> Iterator[None]:
    """The user's data in that folder meanwhile."""
    with mock.patch.dict(os.environ, {"XDG_DATA_HOME": str(folder)}):
        yield


def _way(name: str, width: int, height: int) -> QWidget:
    athlete = Athlete(
        code_name="Heron", height_cm=166.0, targets=(), belt_speed_kmh=10.1, view=View.SIDE
    )
    camera = None if name == "camera" else CLIP
    sessions = 2 if STEPS[name].prescription is not None else 0
    way = way_of(
        STEPS[name], camera_known=camera is not None, camera_checked=True, sessions=sessions
    )
    window = _opened(Place(PageName.WAY, Context(code_name="Heron")), width, height)
    page = window.page
    assert isinstance(page, WayPage)
    page._on_found(WayFound(athlete, way, View.SIDE, camera, None, baseline()))
    return window


def _home(folder: Path, width: int, height: int) -> Iterator[tuple[str, QWidget]]:
    drill = read_drill(bundled_folder(DataFolder.DRILLS) / "quick_steps.toml")
    plan = read_plan(bundled_folder(DataFolder.PLANS) / "eight_sessions.toml")
    athlete = Athlete(
        code_name="Heron", height_cm=166.0, targets=(), belt_speed_kmh=10.1, view=View.SIDE
    )
    own = baseline()
    goals = goals_for(own, drill, athlete.limits)
    path = folder / "heron.toml"
    write_prescription(prescribe(athlete, own, drill, plan, goals, UTC), path)
    for view in (*View, None):
        window = _opened(Place(PageName.HOME, Context(prescription=path)), width, height)
        page = window.page
        assert isinstance(page, HomePage)
        _wait(partial(_has_read, page))
        if view is None:
            page.result = folder / "heron-session3-20261130T090000.json"
            page._show()
        else:
            page.picture.show_view(view)
        yield f"home_{view or 'done'}", window


def _has_picture(page: Any) -> bool:
    return bool(page.clip.picture.shown > 1)


def _has_read(page: HomePage) -> bool:
    return page._today is not None


def _opened(place: Place, width: int, height: int) -> StartWindow:
    window = StartWindow(place)
    window.resize(width, height)
    window.show()
    return window


def _wait(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + _PATIENCE_S
    while not true():
        assert time.monotonic() < deadline, "it never came"
        QApplication.processEvents()
        time.sleep(0.01)
