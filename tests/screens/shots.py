"""Writes a picture of every screen in every state; a script.

``python -m tests.screens.shots OUT_DIR [NAME_PART ...]``: only names that hold one of the parts.
With ``QT_SCALE_FACTOR=2`` they are as on a display of 3840 x 2160 that shows all twice as large.
Another screen joins by a function in :data:`SCREENS` that gives its windows by state.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, Final

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import msgspec
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import QApplication, QTabBar, QWidget

from feedback.screens.clinician.console import ConsoleWindow
from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets.application import make_app
from tests.feedback.screens import (
    examples,
    page_examples,
    panel_examples,
    replay_examples,
    setup_examples,
    start_examples,
    way_examples,
)
from tests.feedback.screens.panel_feed import StillPanelLink, StillStations, points

HAND: Any = _QTest
"""The library's type hints do not know that its functions are static."""
Made = Iterator[tuple[str, QWidget]]
"""Name of the state, and a window that shows it, of the size that it is to have."""
_TURNS: Final = 40


def runner() -> Made:
    """The runner's screen."""
    for name in examples.states():
        yield name, examples.window(examples.states()[name], 1280, 720)[0]


def panel(width: int, height: int) -> Callable[[], Made]:
    """The clinician's panel, in a window of this size."""

    def made() -> Made:
        for name in panel_examples.states():
            link = StillPanelLink(panel_examples.states()[name])
            if link.known.snapshot is not None and link.known.snapshot.readings:
                charted = tuple(target.measure for target in link.known.snapshot.targets)
                link.points = points(names=charted)
            window = PanelWindow(link)
            window.resize(width, height)
            yield name, window

    return made


def panel_pages() -> Made:
    """The other pages of a panel in a small window."""
    for page, name in ((1, "measures"), (2, "targets")):
        window = PanelWindow(StillPanelLink(panel_examples.states()["out_of_band"], points()))
        window.resize(960, 540)
        window.show()
        for bar in window.findChildren(QTabBar):
            bar.setCurrentIndex(page)
        yield name, window


def console() -> Made:
    """The clinician's console with three stations."""
    known = panel_examples.states()
    window = ConsoleWindow()
    for number, (runner_name, state) in enumerate(
        (("Heron", "out_of_band"), ("Plover", "lost"), ("Dipper", "stopped")), start=1
    ):
        status = known[state]
        assert status.snapshot is not None
        named = msgspec.structs.replace(status.snapshot, code_name=runner_name)
        link = StillPanelLink(replace(status, snapshot=named), points())
        window.add_station(f"Treadmill {number}", link)
    window.resize(1600, 960)
    yield "three", window
    window = ConsoleWindow()
    window.add_station("Treadmill 1", StillPanelLink(panel_examples.states()["running"], points()))
    window.resize(1600, 900)
    yield "one", window
    window = ConsoleWindow()
    window.let_join(StillStations(), "Office", lambda _: StillPanelLink(known["running"]))
    window.resize(1280, 720)
    yield "none", window


def setup(width: int, height: int) -> Callable[[], Made]:
    """The camera check, in a window of this size."""

    def made() -> Made:
        for name in setup_examples.states():
            yield name, setup_examples.window(name, width, height)[0]

    return made


def home_pages(width: int, height: int) -> Callable[[], Made]:
    """The pages of a session at home, in a window of this size."""

    def made() -> Made:
        for name in page_examples.pages():
            window, _ = page_examples.window(name, width, height)
            window.numbers[3].setChecked(True)
            window._allow_next()
            yield name, window

    return made


SCREENS: Final[dict[str, Callable[[], Made]]] = {
    "runner": runner,
    "console": console,
    "panel": panel(1920, 1080),
    "panel_1366": panel(1366, 768),
    "panel_small": panel(1280, 720),
    "panel_smallest": panel(960, 540),
    "panel_page": panel_pages,
    "replay": replay_examples.sized(1180, 860),
    "replay_smallest": replay_examples.sized(960, 540),
    "setup": setup(1280, 720),
    "setup_small": setup(860, 500),
    "start": start_examples.sized(1366, 768),
    "start_large": start_examples.sized(1920, 1080),
    "home": home_pages(1280, 720),
    "home_small": home_pages(680, 440),
    "way": partial(way_examples.windows, 1366, 768),
    "way_large": partial(way_examples.windows, 1920, 1080),
    "way_smallest": partial(way_examples.windows, 900, 560),
}
"""By name; each yields its windows one at a time, and they are closed when they are drawn."""


def write_all(folder: Path, parts: tuple[str, ...] = ()) -> list[Path]:
    """One PNG for each screen and state."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for screen, windows in SCREENS.items():
        if parts and not any(part in screen or screen in part for part in parts):
            continue
        for state, window in windows():
            name = f"{screen}_{state}"
            if not parts or any(part in name for part in parts):
                window.show()
                settle()
                path = folder / f"{name}.png"
                if not window.grab().save(str(path)):
                    raise OSError(f"{path} could not be written")
                written.append(path)
            window.close()
            window.deleteLater()
    return written


def settle() -> None:
    """Let the window take in what it is given and draw itself, however busy the computer is."""
    for _ in range(_TURNS):
        HAND.qWait(20)


if __name__ == "__main__":
    app = QApplication.instance() or make_app()
    print(len(write_all(Path(sys.argv[1]), tuple(sys.argv[2:]))), "pictures")
