"""From a fresh start to the first cue, by real keys in real windows alone; and the way at home."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from feedback.athlete_files.prescriptions import read_prescription
from feedback.journal.entries import CueEntry
from feedback.journal.writer import read_journal
from tests.feedback.cli.test_training_commands import Home
from tests.feedback.screens.runner.test_window import display, needs_x, xdotool

__all__ = ["display"]
pytestmark = [pytest.mark.window, pytest.mark.model, needs_x]
MOST_KEYS = 25
MOST_S = 180.0
PATIENCE_S = 60.0
STANDS_S = 0.8
"""A fresh page of the camera check or of the runner takes no key before."""


@pytest.fixture
def home(tmp_path: Path) -> Home:
    return Home(tmp_path)


class Person:
    """Somebody at the keyboard of a display of their own, who started one command."""

    def __init__(self, home: Home, display: str, *words: str) -> None:
        self.home, self.keys = home, 0
        self.began_s = time.monotonic()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "feedback.cli", *words],
            env=home.env | {"DISPLAY": display},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def sees(self, title: str) -> str:
        return wait(
            lambda: xdotool("search", "--onlyvisible", "--name", title).partition("\n")[0],
            title,
            self.process,
        )

    def presses(self, title: str, *keys: str, after_s: float = 0.3) -> None:
        window = self.sees(title)
        time.sleep(after_s)
        if folder := os.environ.get("BELTSIDE_SHOTS"):
            name = f"{self.keys:02d}_{''.join(c for c in title if c.isalnum())}.png"
            subprocess.run(["import", "-window", "root", str(Path(folder) / name)], check=True)
        xdotool("windowfocus", "--sync", window)
        for key in keys:
            xdotool("key", "--clearmodifiers", key)
            self.keys += 1

    def close(self) -> str:
        self.process.terminate()
        return self.process.communicate(timeout=PATIENCE_S)[0]


def wait(seen: Callable[[], str], what: str, process: subprocess.Popen[str] | None = None) -> str:
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        if found := seen():
            return found
        if process is not None:
            assert process.poll() is None, process.communicate()[0]
        time.sleep(0.1)
    titles = xdotool("search", "--onlyvisible", "--name", ".")
    names = [xdotool("getwindowname", one) for one in titles.split()]
    raise AssertionError(f"{what!r} never came; there is {names}")


def newest(folder: Path, pattern: str) -> str:
    found = sorted(folder.rglob(pattern), key=lambda path: path.stat().st_mtime)
    return str(found[-1]) if found else ""


def first_cue(record: Path) -> str:
    """Non-empty once a cue stands in the record, which is written as it goes."""
    return "cued" if any(isinstance(one, CueEntry) for one in read_journal(record).entries) else ""


def test_a_new_runner_comes_to_the_first_cue_by_few_keys_and_no_file(
    home: Home, display: str
) -> None:
    person = Person(home, display)
    try:
        person.presses("Beltside: People", "Return", after_s=1.0)
        person.presses("Beltside: New runner", "k", "1", "Return", "1", "6", "6", "Return",
                       "1", "0", "Return")  # fmt: skip
        person.presses("k1: Set up the camera", "Return")
        person.presses("Camera for k1", "Return", "Return", after_s=1.0)
        person.presses("camera check: All checks passed", "e", after_s=STANDS_S)
        person.presses("camera check: All checks passed", "Return", after_s=STANDS_S)
        person.presses("k1: Take the baseline", "Return", after_s=0.6)
        person.presses("runner's screen", "y", after_s=STANDS_S)
        person.presses("k1: Choose a drill", "Return", after_s=0.6)
        prescription = Path(wait(lambda: newest(home.data / "prescriptions", "*.toml"), "targets"))
        # As a trial, since a session's own warm-up takes three minutes: it is a twentieth here.
        person.presses("k1: Today: Session 1", "shift+Tab", "space", "Tab", "Return", after_s=0.6)
        person.presses("runner's screen", "y", after_s=STANDS_S)
        record = Path(wait(lambda: session_of(home), "a record of the session"))
        wait(lambda: first_cue(record), "the first cue")
        took_s = time.monotonic() - person.began_s
    finally:
        said = person.close()
    assert "Traceback" not in said, said
    drill = read_prescription(prescription).drill
    warm_up_s = 60 * sum(block.minutes or 0 for block in drill.blocks[:1]) / 20
    print(f"{person.keys} keys, {took_s:.0f} s, of which {warm_up_s:.0f} s are warm-up")
    assert person.keys <= MOST_KEYS
    assert took_s - warm_up_s < MOST_S


def session_of(home: Home) -> str:
    """The record of a session with targets: the baseline has none."""
    for path in (home.data / "sessions").glob("*.jsonl"):
        if read_journal(path).header.prescription is not None:
            return str(path)
    return ""
