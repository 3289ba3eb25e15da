"""Real windows: offscreen, as the station starts them, and on an X display with real keys."""

from __future__ import annotations

import os
import queue
import shutil
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from feedback.link.server import LinkServer
from feedback.screens.widgets import palette
from feedback.screens.widgets.launch import ScreenProcess, has_display, spawn_runner_screen
from shared.child_environment import child_environment
from shared.clock import now_ns
from shared.messages import Request, SessionState, Stop, StopReason
from shared.problems import UserError
from tests.feedback.link.examples import snapshot
from tests.feedback.link.test_link import PATIENCE_S, S, until
from tests.feedback.safety.rig import virtual_display
from tests.feedback.screens import look
from tests.feedback.screens.looking import run_checks

pytestmark = pytest.mark.window
WITHOUT_DISPLAY = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


@pytest.fixture(scope="module")
def looked() -> dict[str, str]:
    return run_checks("look")


@pytest.mark.parametrize("check", look.CHECKS)
def test_offscreen(looked: dict[str, str], check: str) -> None:
    assert looked[check] == ""


@pytest.mark.parametrize("scale", ["1.5"])
def test_pictures_and_keys_hold_on_a_scaled_desktop(scale: str) -> None:
    names = (
        "check_no_picture_runs_out_of_its_window",
        "check_marker_tells_the_state_by_place_and_shape",
        "check_keys_and_button_ask_for_stop",
    )
    assert run_checks("look", *names, QT_SCALE_FACTOR=scale) == dict.fromkeys(names, "")


class Station:
    """A link server that a real screen joins."""

    def __init__(self) -> None:
        self.stops: queue.Queue[tuple[Stop, int]] = queue.Queue()
        self.gone: queue.Queue[tuple[str, int]] = queue.Queue()
        self.requests: queue.Queue[Request] = queue.Queue()
        self.server = LinkServer(
            lambda stop, _: self.stops.put((stop, now_ns())),
            lambda asker: self.gone.put((asker.role, now_ns())),
            lambda request, _: self.requests.put(request),
        )
        self.port = self.server.start()
        self.says: dict[str, Any] = {}
        self.over = threading.Event()

    def talk(self) -> None:
        """Publish ten snapshots a second, as a station does, with what ``says`` holds."""

        def run() -> None:
            number = 0
            while not self.over.wait(0.1):
                number += 1
                self.server.publish(snapshot(number, **self.says))

        threading.Thread(target=run, daemon=True).start()

    def open(self, **options: bool) -> ScreenProcess:
        return spawn_runner_screen(self.port, self.server.issue_token("runner"), **options)

    def await_screen(self, screen: ScreenProcess) -> None:
        until(lambda: self.server.screens() or screen.poll() is not None)
        assert screen.poll() is None, screen.said()


@pytest.fixture
def station() -> Iterator[Station]:
    built = Station()
    yield built
    built.over.set()
    built.server.close("test over")


@pytest.fixture
def screen(station: Station, monkeypatch: pytest.MonkeyPatch) -> Iterator[ScreenProcess]:
    """An offscreen screen, started where OpenCV has left its Qt settings behind."""
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setenv("QT_QPA_PLATFORM_PLUGIN_PATH", "/nowhere")
    monkeypatch.setenv("QT_QPA_FONTDIR", "/nowhere")
    opened = station.open()
    station.await_screen(opened)
    yield opened
    opened.kill()
    opened.wait()


def test_a_screen_joins_stays_and_leaves_when_told(station: Station, screen: ScreenProcess) -> None:
    time.sleep(2.5)
    assert station.gone.empty(), "its event loop gives signs of life"
    station.server.publish(snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME))
    station.server.close("done")
    assert screen.wait(PATIENCE_S) == 0
    assert screen.said() == ""
    assert screen.problem() is None


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="no SIGSTOP on this system")
def test_a_frozen_screen_is_noticed(station: Station, screen: ScreenProcess) -> None:
    frozen_ns = now_ns()
    screen.send_signal(signal.SIGSTOP)
    role, gone_ns = station.gone.get(timeout=PATIENCE_S)
    assert role == "runner"
    assert gone_ns - frozen_ns < 3 * S
    screen.send_signal(signal.SIGCONT)


def test_a_killed_screen_is_noticed_and_told(station: Station, screen: ScreenProcess) -> None:
    screen.kill()
    assert station.gone.get(timeout=PATIENCE_S)[0] == "runner"
    screen.wait(PATIENCE_S)
    problem = screen.problem()
    assert problem is not None
    assert problem.code == "screen_unavailable"


def test_without_a_display_it_is_said_in_plain_words(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in WITHOUT_DISPLAY:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setattr(has_display, "__defaults__", ("linux",))
    with pytest.raises(UserError) as caught:
        station.open()
    assert caught.value.problem.code == "screen_unavailable"
    assert "DISPLAY" in caught.value.problem.title


@pytest.mark.parametrize(
    ("environment", "platform", "expected"),
    [
        ({}, "linux", False),
        ({"DISPLAY": ""}, "linux", False),
        ({"DISPLAY": ":0"}, "linux", True),
        ({"WAYLAND_DISPLAY": "wayland-0"}, "linux", True),
        ({"QT_QPA_PLATFORM": "offscreen"}, "linux", True),
        ({}, "win32", True),
        ({}, "darwin", True),
    ],
)
def test_has_display(environment: dict[str, str], platform: str, expected: bool) -> None:
    assert has_display(environment, platform) is expected


@pytest.mark.skipif(sys.platform != "linux", reason="X displays are a Linux matter")
def test_a_display_that_does_not_answer_is_told(
    station: Station, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("QT_QPA_PLATFORM", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setenv("DISPLAY", ":7654")
    opened = station.open()
    opened.wait(PATIENCE_S)
    problem = opened.problem()
    assert problem is not None
    assert problem.title == "No window can be opened (the display does not answer)."
    assert "could not connect to display" in problem.details


def test_a_screen_without_its_station_says_what_to_do() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "feedback.screens.runner.window", "--port", "1"],
        env=child_environment(os.environ),
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stderr.count("\n") == 1
    assert "Start a session" in done.stderr


needs_x = pytest.mark.skipif(
    not all(shutil.which(tool) for tool in ("Xvfb", "xdotool", "import")),
    reason="needs Xvfb, xdotool and ImageMagick",
)


@pytest.fixture
def display() -> Iterator[str]:
    """A display of its own, 1280 x 720, with nothing on it."""
    with virtual_display() as name:
        yield name


def xdotool(*arguments: str) -> str:
    done = subprocess.run(["xdotool", *arguments], capture_output=True, text=True, check=False)
    return done.stdout.strip()


def colours(path: Path) -> dict[str, int]:
    """How many pixels of the whole display have each colour."""
    subprocess.run(["import", "-window", "root", str(path)], check=True)
    done = subprocess.run(
        ["convert", str(path), "-format", "%c", "histogram:info:-"],
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, int] = {}
    for line in done.stdout.splitlines():
        count, _, rest = line.strip().partition(":")
        found[f"#{rest.split('#', 1)[1][:6]}"] = int(count)
    return found


@needs_x
@pytest.mark.parametrize("way", ["space", "Escape", "button"])
def test_stop_on_a_real_display(station: Station, display: str, way: str, tmp_path: Path) -> None:
    opened = station.open()
    try:
        station.await_screen(opened)
        station.talk()
        shot = tmp_path / "running.png"
        until(lambda: colours(shot).get(palette.VERMILION, 0) > 5_000)
        until(lambda: colours(shot).get(palette.BLUE, 0) > 5_000)
        window = until(lambda: xdotool("search", "--onlyvisible", "--name", "Beltside"))
        if way == "button":
            xdotool("mousemove", "1150", "660", "click", "1")
        else:
            xdotool("windowfocus", "--sync", window.splitlines()[0], "key", way)
        stop, heard_ns = station.stops.get(timeout=PATIENCE_S)
        assert 0 <= heard_ns - stop.asked_ns < 1 * S
        station.says = {
            "state": SessionState.STOPPED,
            "stop_reason": StopReason.RUNNER,
            "saved": True,
        }
        until(lambda: palette.VERMILION not in colours(tmp_path / "stopped.png"))
        assert opened.poll() is None, "the end stays on the screen"
        time.sleep(1.2)
        xdotool("windowfocus", "--sync", window.splitlines()[0], "key", "Escape")
        assert opened.wait(PATIENCE_S) == 0
    finally:
        opened.kill()
        opened.wait()
