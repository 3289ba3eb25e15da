"""From a fresh start to the first cue, by real keys in real windows alone; and the way at home."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec
import pytest
import tomli_w

from feedback.athlete_files.drills import read_drill
from feedback.athlete_files.plan_log import read_result
from feedback.athlete_files.prescriptions import read_prescription
from feedback.journal.entries import CueEntry
from feedback.journal.writer import read_journal
from feedback.storage.folders import DataFolder, bundled_folder
from shared.targets import BlockKind
from tests.feedback.cli.test_training_commands import Home
from tests.feedback.screens.runner.test_window import display, needs_x, xdotool

__all__ = ["display"]
pytestmark = [pytest.mark.window, pytest.mark.model, needs_x]
MOST_KEYS = 25
MOST_S = 180.0
PATIENCE_S = 60.0
STANDS_S = 1.6
"""A fresh page takes no key for 0.7 s, and comes a little after its window."""


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


def test_a_prescription_that_is_opened_leads_to_the_first_cue_and_the_file_to_send(
    home: Home, display: str, tmp_path: Path
) -> None:
    path = sent_by_a_clinic(tmp_path)
    person = Person(home, display, str(path))
    try:
        person.presses("Today: session 1", "Return", after_s=0.6)
        person.presses("Camera for Heron", "Return", "Return", after_s=1.0)
        person.presses("Today: session 1", "Return", after_s=0.6)
        person.presses("Is this from your clinic", "Return", after_s=STANDS_S)
        person.presses("camera check: All checks passed", "e", after_s=STANDS_S)
        person.presses("camera check: All checks passed", "Return", after_s=STANDS_S)
        person.presses("runner's screen", "y", after_s=STANDS_S)
        record = Path(wait(lambda: session_of(home), "a record of the session"))
        wait(lambda: first_cue(record), "the first cue")
        took_s, keys = time.monotonic() - person.began_s, person.keys
        person.presses("runner's screen", "space")
        person.presses("Worst pain", "0", "Return", after_s=STANDS_S)
        person.presses("How hard", "3", "Return", after_s=STANDS_S)
        person.presses("How strange", "Escape", after_s=STANDS_S)
        person.sees("Done. This was a trial")
        if folder := os.environ.get("BELTSIDE_SHOTS"):
            time.sleep(1)
            subprocess.run(["import", "-window", "root", f"{folder}/home_done.png"], check=True)
    finally:
        said = person.close()
    assert "Traceback" not in said, said
    print(f"{keys} keys, {took_s:.0f} s, without a warm-up")
    assert keys <= MOST_KEYS
    assert took_s < MOST_S
    result = read_result(Path(newest(home.data / "results", "*.json")))
    assert (result.session.pain_worst, result.session.effort) == (0, 3)


def sent_by_a_clinic(folder: Path) -> Path:
    """A prescription signed elsewhere; its drill has no warm-up, so that the cues come at once."""
    clinic = Home(folder / "clinic")
    clinic.keep_baseline()
    drill = read_drill(bundled_folder(DataFolder.DRILLS) / "quick_steps.toml")
    blocks = tuple(one for one in drill.blocks if one.kind is BlockKind.CUED)
    short = msgspec.structs.replace(drill, blocks=blocks)
    written = folder / "at_once.toml"
    fields = msgspec.to_builtins(short)
    written.write_text(tomli_w.dumps(without_nothing(fields)))
    out = folder / "heron.toml"
    clinic.good("prescribe", "--athlete", "heron", "--drill", str(written), "--out", str(out))
    return out


def without_nothing(value: Any) -> Any:
    """TOML has no word for None: what is left out is the same."""
    if isinstance(value, dict):
        return {name: without_nothing(one) for name, one in value.items() if one is not None}
    return [without_nothing(one) for one in value] if isinstance(value, list | tuple) else value
