"""Cautions come first: ``beltside run`` waits for them on its screen, and records who confirmed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import platformdirs
import pytest

from feedback.journal.entries import StateEntry
from feedback.journal.writer import read_journal
from feedback.texts.runner import CAUTIONS, words
from shared.messages import SessionState
from tests.feedback.safety.rig import focus_window, virtual_display, wait_until
from tests.live.camera.mjpeg_server import MjpegServer

pytestmark = [
    pytest.mark.model,
    pytest.mark.window,
    pytest.mark.skipif(
        not all(shutil.which(tool) for tool in ("Xvfb", "xdotool")),
        reason="needs Xvfb and xdotool",
    ),
]


def test_the_cautions_say_what_they_must() -> None:
    """What has to be in them: clear space 2 m x 1 m (ukactive note citing BS EN 957-6:2010), and
    symptoms at which exercise ends (lists of the ACSM, secondary copies)."""
    text = " ".join(words(key) for key in CAUTIONS).lower()
    for part in (
        "safety key", "2 m × 1 m behind the belt free", "cameras and cables outside",  # noqa: RUF001
        "never drives the belt", "pain, dizziness or chest symptoms", "the clinician's rules",
        "not a medical device", "a hand held over your head",
    ):  # fmt: skip
        assert part in text, part


@pytest.fixture
def home(tmp_path: Path) -> Iterator[dict[str, str]]:
    with virtual_display():
        yield os.environ | {
            "XDG_DATA_HOME": str(tmp_path / "data"),
            "XDG_STATE_HOME": str(tmp_path / "state"),
            "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
        }


def press(key: str) -> None:
    subprocess.run(["xdotool", "key", key], check=True)


@pytest.mark.parametrize("confirmed", [True, False])
def test_a_session_waits_until_the_cautions_are_confirmed_on_its_screen(
    home: dict[str, str], confirmed: bool
) -> None:
    with MjpegServer() as camera:
        command = ["run", "--athlete", "heron", "--stream", camera.url, "--no-sound", "--windowed"]
        process = subprocess.Popen(
            [sys.executable, "-m", "feedback.cli.main", *command],
            env=home,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        try:
            focus_window()
            folder = Path(home["XDG_DATA_HOME"]) / "beltside" / "sessions"
            wait_until(lambda: any(folder.glob("*.jsonl")))
            record = next(folder.glob("*.jsonl"))
            time.sleep(1.0)  # frames and ticks go by, and nothing happens
            assert states(record) == []
            if confirmed:
                press("y")
                wait_until(lambda: states(record) == [(SessionState.READY, "the runner's screen")])
            press("space")
            wait_until(
                lambda: states(record)[-1:] == [(SessionState.STOPPED, "the runner's screen")]
            )
        finally:
            process.terminate()
            out, err = process.communicate(timeout=60)
    assert err == ""
    assert "press Y there" in out
    assert len(states(record)) == 1 + confirmed


def states(record: Path) -> list[tuple[SessionState, str]]:
    entries = read_journal(record).entries
    return [(e.state, e.source) for e in entries if isinstance(e, StateEntry)]
