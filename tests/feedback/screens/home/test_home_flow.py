"""A whole session at home on a real display, led by pages and driven by real keys alone."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.athlete_files.plan_log import read_result
from feedback.demo import demo_clip
from live.camera.opencv import cv2
from shared.flow import View
from shared.messages import StopReason
from tests.feedback.cli.test_signing_commands import cut_off
from tests.feedback.cli.test_training_commands import Home
from tests.feedback.screens.runner.test_window import display, needs_x, xdotool
from tests.live.camera.mjpeg_server import MjpegServer

__all__ = ["display"]
pytestmark = [pytest.mark.window, pytest.mark.model, needs_x]
PATIENCE_S = 60.0
A_PERSON_S = 3 * 60.0
"""What a first-timer may take for the camera check."""
READ_S = 4.0
"""For a page of two sentences, at 200 words a minute and a breath (our choice)."""
WALK_S = 15.0
"""From the computer to the belt, or back (our choice)."""


class Runner:
    """Somebody at the keyboard of a display of their own."""

    def __init__(self, home: Home, display: str, *words: str) -> None:
        self.home = home
        self.keys = 0
        self.shots = os.environ.get("BELTSIDE_SHOTS")
        self.process = subprocess.Popen(
            [sys.executable, "-m", "feedback.cli.main", *words],
            env=home.env | {"DISPLAY": display},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def sees(self, title: str) -> str:
        """Wait for a window with this in its title; its number."""
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            found = xdotool("search", "--onlyvisible", "--name", title)
            if found:
                return found.splitlines()[0]
            assert self.process.poll() is None, self.process.communicate()[0]
            time.sleep(0.05)
        raise AssertionError(f"{title!r} was never seen")

    def presses(self, title: str, *keys: str) -> None:
        """See that window, and press these keys there."""
        window = self.sees(title)
        time.sleep(1.6)  # a fresh page takes no key for 0.7 s, and comes a little after its window
        if self.shots:
            name = f"{self.keys:02d}_{''.join(c for c in title if c.isalnum())}.png"
            subprocess.run(["import", "-window", "root", str(Path(self.shots) / name)], check=True)
        xdotool("windowfocus", "--sync", window)
        for key in keys:
            xdotool("key", "--clearmodifiers", key)
            self.keys += 1

    def ends(self) -> tuple[int, str]:
        said = self.process.communicate(timeout=PATIENCE_S)[0]
        return self.process.returncode, said

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
            self.process.communicate(timeout=PATIENCE_S)


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


@pytest.fixture
def camera() -> Iterator[MjpegServer]:
    """A network camera that looks at the drawn runner."""
    video = cv2.VideoCapture(str(demo_clip(View.SIDE)))
    pictures = []
    while True:
        ok, image = video.read()
        if not ok:
            break
        pictures.append(cv2.imencode(".jpg", image)[1].tobytes())
    with MjpegServer(lambda number: pictures[number % len(pictures)]) as server:
        yield server


def test_a_whole_session_at_home_by_keys_alone(
    home: Home, display: str, camera: MjpegServer
) -> None:
    path = home.prescription()
    out = home.folder / "mine.json"
    runner = Runner(home, display, "home", str(path), "--stream", camera.url, "--no-sound",
                    "--shorten", "40", "--out", str(out), "--no-report")  # fmt: skip
    try:
        runner.presses("Today: session 1", "Return")
        runner.presses("Set up the camera", "Return")
        began = time.monotonic()
        runner.presses("camera check: All checks passed", "r", "Left", "Left", "f", "Right")
        time.sleep(0.5)
        runner.presses("camera check: All checks passed", "Return")
        checked_s = time.monotonic() - began
        keys = runner.keys - 2
        runner.presses("runner's screen", "y")
        runner.presses("Worst pain", "1", "0", "Return")
        runner.presses("How hard", "5", "Right", "Right", "Return")
        runner.presses("How strange", "Escape")
        assert read_result(out).session.effort == 7, "saved before the last question"
        runner.presses("Done. This was a trial", "Return")
        code, said = runner.ends()
    finally:
        runner.close()
    assert code == 0, said
    assert "Traceback" not in said
    result = read_result(out)
    assert result.session.stop_reason is StopReason.FINISHED, said
    assert result.session.pain_worst == 10
    assert result.session.effort == 7
    assert result.session.awkwardness is None
    assert {block.kind.value for block in result.blocks} >= {"warm_up", "cued"}
    places = list((home.data / "places").iterdir())
    assert len(places) == 1
    # The machine's part, and a person's: one page to read, a walk there and back, one key a second.
    person_s = checked_s + READ_S + 2 * WALK_S + keys
    print(f"camera check: {checked_s:.1f} s, {keys} keys, {person_s:.0f} s with a person's part")
    assert person_s < A_PERSON_S


def test_who_leaves_before_the_run_has_started_nothing(home: Home, display: str) -> None:
    path = home.prescription()
    runner = Runner(home, display, "home", str(path), "--clip", "side", "--no-sound")
    try:
        runner.presses("Today: session 1", "Escape")
        code, said = runner.ends()
    finally:
        runner.close()
    assert (code, "Nothing was started." in said) == (0, True), said
    assert not (home.data / "results").exists()


@pytest.mark.parametrize(
    ("unsigned", "heading"), [(False, "Is this from your clinic"), (True, "This is not signed")]
)
def test_who_stands_behind_it_is_a_page_of_its_own_and_can_be_left_at(
    home: Home, display: str, tmp_path: Path, unsigned: bool, heading: str
) -> None:
    path = Home(tmp_path / "clinic").prescription()
    words = ["--clip", "side", "--no-sound"]
    if unsigned:
        path, words = cut_off(path), [*words, "--accept-unsigned"]
    for keys in (["Escape"], ["Return", "Escape"]):
        runner = Runner(home, display, "home", str(path), *words)
        try:
            runner.presses(heading, keys[0])
            if keys[1:]:
                runner.presses("Today: session 1", keys[1])
            code, said = runner.ends()
        finally:
            runner.close()
        assert (code, "Nothing was started." in said) == (0, True), said
    assert not (home.data / "clinics.json").exists()  # only what is run makes a clinic known


def test_a_prescription_that_may_not_be_run_is_told_on_the_page(
    home: Home, display: str, tmp_path: Path
) -> None:
    path = cut_off(Home(tmp_path / "clinic").prescription())
    runner = Runner(home, display, "home", str(path), "--clip", "side")
    try:
        runner.presses("is not signed", "Return")
        code, said = runner.ends()
    finally:
        runner.close()
    assert code == 1
    assert "--accept-unsigned" in said


def test_who_leaves_the_camera_check_has_started_nothing(home: Home, display: str) -> None:
    path = home.prescription()
    runner = Runner(home, display, "home", str(path), "--clip", "side", "--no-sound")
    try:
        runner.presses("Today: session 1", "Return")
        runner.presses("Set up the camera", "Return")
        runner.presses("camera check", "Escape")
        # Back leads from the check to where the camera is told of, and from there to today.
        runner.presses("Set up the camera", "BackSpace")
        runner.presses("Today: session 1", "Return")
        runner.presses("Set up the camera", "Escape")
        code, said = runner.ends()
    finally:
        runner.close()
    assert (code, "Nothing was started." in said) == (0, True), said


def test_a_window_that_dies_at_the_questions_loses_nothing(home: Home, display: str) -> None:
    path = home.prescription()
    out = home.folder / "mine.json"
    runner = Runner(home, display, "home", str(path), "--clip", "side", "--no-sound",
                    "--shorten", "60", "--out", str(out), "--no-report")  # fmt: skip
    try:
        runner.presses("Today: session 1", "Return")
        runner.presses("Set up the camera", "Return")
        runner.presses("camera check: All checks passed", "e")
        time.sleep(0.5)
        runner.presses("camera check: All checks passed", "Return")
        runner.presses("Worst pain", "2", "Return")
        xdotool("windowkill", runner.sees("How hard"))
        code, said = runner.ends()
    finally:
        runner.close()
    assert code == 0, said
    result = read_result(out)
    assert (result.session.pain_worst, result.session.effort) == (2, None)


def test_what_cannot_be_begun_is_told_on_the_page_too(home: Home, display: str) -> None:
    path = home.prescription()
    runner = Runner(home, display, "home", str(path), "--clip", "side", "--number", "99")
    try:
        runner.presses("no session 99", "Return")
        code, said = runner.ends()
    finally:
        runner.close()
    assert code == 1
    assert "no session 99" in said
    assert "Traceback" not in said
