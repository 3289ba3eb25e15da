"""On one monitor the runner's screen and the panel lie beside each other, none over the other."""

from __future__ import annotations

from itertools import product
from pathlib import Path

import pytest

from feedback.screens.widgets import palette
from feedback.screens.widgets.launch import spawn_panel, spawn_runner_screen
from feedback.screens.widgets.share_monitor import (
    BAR_PX,
    PANEL_LEAST_PX,
    MonitorPart,
    share,
    share_before,
)
from feedback.texts.runner import words
from shared.messages import Confirm, SessionState
from tests.feedback.link.test_link import PATIENCE_S, until
from tests.feedback.screens.runner.test_window import (
    Station,
    colours,
    display,
    needs_x,
    station,
    xdotool,
)

__all__ = ["display", "station"]  # fixtures of the runner's screen

MONITORS = ((1920, 1080), (2560, 1440), (3840, 2160), (1366, 768), (1280, 720), (1024, 768))


def over(one: MonitorPart, other: MonitorPart) -> bool:
    """Whether two parts have a pixel in common."""
    beside = one.x + one.width <= other.x or other.x + other.width <= one.x
    below = one.y + one.height <= other.y or other.y + other.height <= one.y
    return not beside and not below


@pytest.mark.parametrize("size", MONITORS)
def test_neither_hides_the_other_and_both_stay_on_the_monitor(size: tuple[int, int]) -> None:
    for x, y in ((0, 0), (0, 28), (70, 0)):
        runner, panel = share_before(x, y, size[0] - x, size[1] - y)
        assert not over(runner, panel)
        assert (runner.width, runner.height + panel.height) == (size[0] - x, size[1] - y)
        assert runner.height >= 4 * panel.height
        runner, panel = share(x, y, size[0] - x, size[1] - y)
        assert not over(runner, panel)
        for part in (runner, panel):
            assert (part.x, part.y) >= (x, y)
            assert part.x + part.width <= size[0]
            assert part.y + part.height <= size[1]
        assert panel.width >= PANEL_LEAST_PX[0]
        assert panel.height >= PANEL_LEAST_PX[1]


def test_all_sizes_are_shared_out_whole_or_not_at_all() -> None:
    for wide, high in product(range(400, 4000, 130), range(300, 2400, 110)):
        runner, panel = share(0, 0, wide, high)
        area = sum(part.width * part.height for part in (runner, panel))
        whole = MonitorPart(0, 0, wide, high)
        assert area == wide * high or (runner, panel) == (whole, whole)


@needs_x
@pytest.mark.window
def test_the_cautions_are_seen_beside_the_panel_and_confirmed(
    station: Station, display: str, tmp_path: Path
) -> None:
    station.says = {"state": SessionState.CAUTIONS}
    station.talk()
    token = station.server.issue_token
    # the runner's comes first in a session; here the slower one may take its time
    screens = [spawn_panel(station.port, token("panel"), beside=True)]
    try:
        station.await_screen(screens[0])
        screens.append(spawn_runner_screen(station.port, token("runner"), beside=True))
        until(lambda: len(station.server.screens()) == 2)
        # the panel's Stop is painted with nothing of the cautions' page under it
        until(lambda: colours(tmp_path / "both.png").get(palette.STOP_PLATE.colour, 0) > 5_000)
        places = [place(name) for name in ("runner's screen", "clinician's panel")]
        assert not over(*places), places
        assert [part.width for part in places] == [1280, 1280], "the panel is a bar below"
        assert [part.height for part in places] == [720 - BAR_PX, BAR_PX]
        window = xdotool("search", "--onlyvisible", "--name", "runner's screen").splitlines()[0]
        assert xdotool("getwindowname", window) == words("app_title"), "the program's name once"
        xdotool("windowfocus", "--sync", window)
        until(lambda: xdotool("key", "y") == "" and not station.requests.empty())
        assert station.requests.get(timeout=PATIENCE_S) == Confirm()
        station.says = {"state": SessionState.RUNNING}
        station.talk()
        until(lambda: place("clinician's panel").height == 720)
        until(lambda: place("runner's screen").height == 720)
        places = [place(name) for name in ("runner's screen", "clinician's panel")]
        assert not over(*places), places
    finally:
        for screen in screens:
            screen.kill()
            screen.wait()


def place(name: str) -> MonitorPart:
    """Where the window of this name stands on the display."""

    def told() -> dict[str, str]:
        found = xdotool("search", "--onlyvisible", "--name", name).splitlines()
        lines = xdotool("getwindowgeometry", "--shell", found[0]) if found else ""
        return dict(line.split("=", 1) for line in lines.splitlines())

    at = until(told)
    return MonitorPart(*(int(at[key]) for key in ("X", "Y", "WIDTH", "HEIGHT")))
