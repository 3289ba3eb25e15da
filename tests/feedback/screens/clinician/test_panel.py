"""The panel as a real window: offscreen, as the station starts it, and on an X display."""

from __future__ import annotations

import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from feedback.link.protocol import Asker
from feedback.link.server import LinkServer
from feedback.screens.clinician.panel import PICTURES_PER_S
from feedback.screens.widgets import palette
from feedback.screens.widgets.launch import ScreenProcess, spawn_panel
from shared.changes import Adjust, Answered
from shared.child_environment import child_environment
from shared.clock import now_ns
from shared.messages import Request, Stop
from tests.feedback.link.test_link import PATIENCE_S, until
from tests.feedback.screens import panel_look
from tests.feedback.screens.looking import run_checks
from tests.feedback.screens.panel_examples import briefing, running, target
from tests.feedback.screens.panel_feed import AT_NS, picture, points
from tests.feedback.screens.runner.test_window import colours, display, needs_x, xdotool

__all__ = ["display"]  # a fixture of the runner's screen
pytestmark = pytest.mark.window


@pytest.fixture(scope="module")
def looked() -> dict[str, str]:
    return run_checks("panel_look")


@pytest.mark.parametrize("check", panel_look.CHECKS)
def test_offscreen(looked: dict[str, str], check: str) -> None:
    assert looked[check] == ""


@pytest.mark.parametrize("scale", ["1.5"])
def test_texts_and_keys_hold_on_a_scaled_desktop(scale: str) -> None:
    names = (
        "check_no_text_is_cut_and_nothing_overlaps",
        "check_a_target_is_moved_in_two_actions",
        "check_stop_is_asked_for_by_escape_and_f12_from_everywhere",
    )
    assert run_checks("panel_look", *names, QT_SCALE_FACTOR=scale) == dict.fromkeys(names, "")


class Station:
    """A link server with a drill under way, which the panel joins."""

    def __init__(self) -> None:
        self.stops: queue.Queue[tuple[Stop, Asker, int]] = queue.Queue()
        self.gone: queue.Queue[Asker] = queue.Queue()
        self.requests: queue.Queue[tuple[Request, Asker]] = queue.Queue()
        self.server = LinkServer(
            lambda stop, asker: self.stops.put((stop, asker, now_ns())),
            self.gone.put,
            lambda request, asker: self.requests.put((request, asker)),
        )
        self.port = self.server.start()
        self.server.brief(briefing())
        self.server.add_points(points())
        self.says: dict[str, Any] = {}
        self.over = threading.Event()
        self._talk = threading.Thread(target=self._run, daemon=True)
        self._talk.start()

    def close(self) -> None:
        self.over.set()
        self._talk.join()
        self.server.close("test over")

    def asked(self, kind: type[Request]) -> tuple[Any, Asker]:
        """The next request of this kind."""
        while True:
            request, asker = self.requests.get(timeout=PATIENCE_S)
            if isinstance(request, kind):
                return request, asker

    def _run(self) -> None:
        number, shot = 0, picture()
        while not self.over.wait(0.1):
            number += 1
            self.server.publish(running(number=number, at_ns=AT_NS + number, **self.says))
            if self.server.wants_pictures():
                self.server.show(shot)


@pytest.fixture
def station() -> Iterator[Station]:
    built = Station()
    yield built
    built.close()


@pytest.fixture
def panel(station: Station, monkeypatch: pytest.MonkeyPatch) -> Iterator[ScreenProcess]:
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    opened = spawn_panel(station.port, station.server.issue_token("panel"))
    yield opened
    opened.kill()
    opened.wait()


def test_a_panel_joins_asks_for_pictures_and_closes_when_told(
    station: Station, panel: ScreenProcess
) -> None:
    until(lambda: station.server.wants_pictures() == PICTURES_PER_S)
    assert station.server.screens() == ("panel",)
    time.sleep(2.0)
    assert station.gone.empty(), "its event loop gives signs of life"
    station.close()
    assert panel.wait(PATIENCE_S) == 0
    assert panel.said() == ""


def test_a_panel_without_its_station_says_what_to_do() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "feedback.screens.clinician.panel", "--port", "1"],
        env=child_environment(os.environ),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "--panel" in done.stderr


@needs_x
def test_a_target_is_changed_and_the_session_stopped_on_a_real_display(
    station: Station, display: str, tmp_path: Path
) -> None:
    opened = spawn_panel(station.port, station.server.issue_token("panel"))
    try:
        shot = tmp_path / "panel.png"
        until(lambda: colours(shot).get(palette.VERMILION, 0) > 5_000)
        until(lambda: colours(shot).get(palette.LEFT_LIMB.colour, 0) > 1_000)
        window = until(lambda: xdotool("search", "--onlyvisible", "--name", "Beltside"))
        first = window.splitlines()[0]
        xdotool("windowfocus", "--sync", first)
        # from Stop on: the tabs, the table's row and so on come after the target's control
        xdotool("key", "Tab")
        xdotool("mousemove", "872", "637", "click", "--repeat", "3", "1")
        xdotool("key", "ctrl+a")
        xdotool("type", "173")
        xdotool("key", "Return")
        request, asker = station.asked(Adjust)
        assert (request.number, request.revision, request.aim) == (0, 2, 173.0)
        moved = target(revision=3, aim=173.0, low=169.0, high=177.0, can_undo=True)
        station.says = {"targets": (moved,)}
        station.server.answer(
            asker.connection, Answered(id=request.id, done=True, target=moved, from_step=1_101)
        )
        # the field still has the keys: Esc, a presenter's and a pedal's, as X names them
        for key in ("Escape", "Next", "Prior", "F5", "shift+F5", "XF86AudioPlay"):
            xdotool("key", key)
            stop, asker, heard_ns = station.stops.get(timeout=PATIENCE_S)
            assert asker.role == "panel"
            assert 0 <= heard_ns - stop.asked_ns < 1_000_000_000
        assert opened.poll() is None
    finally:
        opened.kill()
        opened.wait()


def test_losing_the_panel_is_noticed(station: Station, panel: ScreenProcess) -> None:
    until(station.server.wants_pictures)
    panel.kill()
    assert station.gone.get(timeout=PATIENCE_S).role == "panel"
