"""The start window with made-up people, page by page, for pictures of it."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Iterator
from typing import Any, Final
from unittest.mock import patch

from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import QLineEdit, QWidget

from feedback.athlete_files.athletes import bundled_folder, own_folder
from feedback.athlete_files.profile_edit import save_new
from feedback.journal.writer import sessions_folder
from feedback.screens.start.model import Context, PageName, Place
from feedback.screens.start.new_runner_page import NewRunnerPage
from feedback.screens.start.profile_page import ProfilePage
from feedback.screens.start.records_page import RecordsPage
from feedback.screens.start.window import StartWindow
from feedback.screens.widgets.help_window import HelpWindow
from feedback.storage.folders import make_private
from shared.identity import derived_id
from tests.feedback.records.month import short_session

HAND: Any = _QTest
_PATIENCE_S: Final = 30.0
_VALUES: Final = (160.0, 161.2, 162.9, 164.1, 165.4, 164.8, 166.0, 166.3)


def sized(width: int, height: int) -> Callable[[], Iterator[tuple[str, QWidget]]]:
    """Every page, in a window of this size."""

    def made() -> Iterator[tuple[str, QWidget]]:
        with (
            tempfile.TemporaryDirectory() as folder,
            patch.dict(os.environ, {"XDG_DATA_HOME": folder, "XDG_CONFIG_HOME": folder}),
        ):
            yield "empty", _window(width, height, Place(PageName.PEOPLE))
            _fill()
            for name, place in _places().items():
                window = _window(width, height, place)
                _bring_about(name, window)
                yield name, window
            manual = HelpWindow()
            manual.resize(min(width, 1100), min(height, 760))
            manual.open("start-window")
            yield "help", manual

    return made


def _fill() -> None:
    for name, height, speed in (("Avocet", 171, 9.5), ("Ruff", 182, 11.0), ("Sandpiper", 165, 9.0)):
        save_new(name, height, speed)
    heron = own_folder() / "heron.toml"
    make_private(heron.parent)
    heron.write_bytes((bundled_folder() / "heron.toml").read_bytes())
    for number, value in enumerate(_VALUES):
        short_session(sessions_folder(), "Stint", number * 3, (value, value + 1.5, value - 1.0))


def _places() -> dict[str, Place]:
    heron = Context(profile=own_folder() / "heron.toml", code_name="Heron")
    stint = Context(person_id=derived_id("Stint"), code_name="Stint")
    return {
        "people": Place(PageName.PEOPLE),
        "new_runner": Place(PageName.NEW_RUNNER),
        "new_runner_wrong": Place(PageName.NEW_RUNNER),
        "profile": Place(PageName.PROFILE, heron),
        "profile_wrong": Place(PageName.PROFILE, heron),
        "records": Place(PageName.RECORDS, stint),
        "records_erase": Place(PageName.RECORDS, stint),
        "video": Place(PageName.VIDEO, heron),
        "settings": Place(PageName.SETTINGS),
    }


def _window(width: int, height: int, place: Place) -> StartWindow:
    window = StartWindow(place)
    window.resize(width, height)
    window.show()
    deadline = time.monotonic() + _PATIENCE_S
    while window.jobs.count and time.monotonic() < deadline:
        HAND.qWait(20)
    HAND.qWait(50)
    return window


def _bring_about(name: str, window: StartWindow) -> None:
    page = window.page
    if name == "new_runner_wrong" and isinstance(page, NewRunnerPage):
        page.name.edit.setText("Ruff")
        page.tall.edit.setText("17")
        page.save.click()
    if name == "profile_wrong" and isinstance(page, ProfilePage):
        control = page.forms[0].controls["height_cm"]
        if isinstance(control, QLineEdit):
            control.selectAll()
            HAND.keyClicks(control, "300")
    if name == "records_erase" and isinstance(page, RecordsPage):
        page.erase.click()
        page.card.name.edit.setText("Stint")
        page.card.go_on.click()
