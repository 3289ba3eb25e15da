"""Whether a runner's screen is taken for gone on a busy computer, though it is there; a script.

Run: python -m tests.bench.bench_gone [--minutes 5] [--busy 8] [--longest-s 1.2]

A session on the bundled clip with real processes on an X display (Xvfb), while ``--busy`` processes
want all of every core and one writes and flushes to the same disk. Again and again the screen, or
the station, or both, are held up (SIGSTOP) for up to ``--longest-s``, which is less than the 1.4 s
of silence after which a screen counts as gone. A session that ended meanwhile is counted with what
its record says, and the next begins. One line of JSON on stdout. Linux.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any, Final

from feedback.journal.entries import ProblemEntry
from feedback.journal.writer import read_journal
from tests.feedback.safety.rig import virtual_display

WRITES: Final = """
import os, sys
while True:
    with open(sys.argv[1], "wb") as file:
        for _ in range(64):
            file.write(bytes(1 << 20))
            os.fsync(file.fileno())
"""
JOINS_S: Final = 60.0
HELD: Final = ("screen", "station", "both", "neither")


def main() -> int:
    """Exit code 1 where a screen was taken for gone."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--busy", type=int, default=8)
    parser.add_argument("--longest-s", type=float, default=1.2)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    rng, until = random.Random(options.seed), time.monotonic() + 60 * options.minutes
    found: dict[str, Any] = {"sessions": 0, "held_up": 0, "gone": []}
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        stack.enter_context(virtual_display())
        spin = [sys.executable, "-c", "while True: pass"]
        write = [sys.executable, "-c", WRITES, str(folder / "filling")]
        for words in (*[spin] * options.busy, write):
            stack.callback(subprocess.Popen(words).kill)
        while time.monotonic() < until:
            _one_session(folder / f"{found['sessions']}", rng, until, options.longest_s, found)
    sys.stdout.write(json.dumps(found) + "\n")
    return int(bool(found["gone"]))


def _one_session(
    folder: Path, rng: random.Random, until: float, longest_s: float, found: dict[str, Any]
) -> None:
    environment = os.environ | {
        "XDG_DATA_HOME": str(folder / "data"),
        "XDG_STATE_HOME": str(folder / "state"),
    }
    words = ("run", "--athlete", "heron", "--clip", "side", "--cautions-read", "--no-sound")
    with subprocess.Popen(
        [sys.executable, "-m", "feedback.cli.main", *words, "--no-report"],
        env=environment,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as station:
        found["sessions"] += 1
        screen = _screen_of(station)
        time.sleep(5.0)
        while time.monotonic() < until and station.poll() is None:
            held = {"screen": [screen], "station": [station.pid], "both": [screen, station.pid]}
            for pid in (pids := held.get(rng.choice(HELD), [])):
                with suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGSTOP)
            time.sleep(rng.uniform(0.2, longest_s))
            for pid in pids:
                with suppress(ProcessLookupError):
                    os.kill(pid, signal.SIGCONT)
            found["held_up"] += bool(pids)
            time.sleep(rng.uniform(0.5, 2.0))
        station.send_signal(signal.SIGTERM)
    for path in folder.rglob("*.jsonl"):
        found["gone"] += [
            entry.problem.details
            for entry in read_journal(path).entries
            if isinstance(entry, ProblemEntry) and entry.problem.code == "screen_lost"
        ]


def _screen_of(station: subprocess.Popen[bytes]) -> int:
    """The process of its runner's screen, once there is one."""
    until = time.monotonic() + JOINS_S
    while time.monotonic() < until and station.poll() is None:
        with suppress(OSError):
            children = Path(f"/proc/{station.pid}/task/{station.pid}/children").read_text()
            for pid in children.split():
                if "feedback.screens.runner.window" in Path(f"/proc/{pid}/cmdline").read_text():
                    return int(pid)
        time.sleep(0.2)
    raise RuntimeError("no runner's screen was opened")


if __name__ == "__main__":
    sys.exit(main())
