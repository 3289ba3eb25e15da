"""Whether a note that was answered "done" outlives its station; a script.

Run: python -m tests.bench.bench_kept_notes [--runs 30] [--notes 250] [--disk-ms 0]

In each run a station with a panel's real link notes one note after the other, and is killed
(SIGKILL) the moment after an answer has come: at a note by chance and at the last one in turn.
``--disk-ms`` makes the disk as slow as that. Counted are the notes that were answered "done" and do
not stand in the record. One line of JSON on stdout.
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
import threading
import time
from dataclasses import replace
from pathlib import Path

from feedback.journal.entries import NoteEntry
from feedback.journal.writer import read_journal
from feedback.link.local_client import LinkClient
from shared.changes import Answered, Note
from shared.flow import Frame, Pose
from shared.messages import Role
from tests.feedback.station_bench import Bench, PacedSource, RunnerModel, wait_until

LONGEST_FRAMES = 200_000
PAUSE_S = 0.025
"""A panel that asks more than 50 times a second is cut off."""


class TirelessModel(RunnerModel):
    """Begins its run again and again."""

    def detect(self, frame: Frame) -> Pose:
        return super().detect(replace(frame, index=frame.index % len(self.poses)))


def main() -> int:
    """Exit code 1 where a note was lost."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=30)
    parser.add_argument("--notes", type=int, default=250)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--disk-ms", type=int, default=0)
    parser.add_argument("--station", type=Path, help="for its own use")
    options = parser.parse_args()
    if options.station is not None:
        slow_down(options.disk_ms / 1000)
        notes_in_turn(options.station)
        return 0
    rng, answered, lost = random.Random(options.seed), 0, []
    for run in range(options.runs):
        most = options.notes if run % 2 else rng.randint(1, options.notes)
        with tempfile.TemporaryDirectory() as folder:
            done, missing = killed_after(Path(folder), most, options.disk_ms)
        answered += done
        lost += missing
    found = {"runs": options.runs, "answered": answered, "lost": len(lost)}
    sys.stdout.write(json.dumps(found) + "\n")
    return int(bool(lost))


def killed_after(folder: Path, most: int, disk_ms: int) -> tuple[int, list[str]]:
    """How many notes were answered "done" before the station was killed, and those it then lost."""
    script = [sys.executable, "-m", "tests.bench.bench_kept_notes"]
    words = [*script, "--station", str(folder), "--disk-ms", f"{disk_ms}"]
    done: list[str] = []
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as station:
        assert station.stdout is not None
        while len(done) < most and (line := station.stdout.readline()):
            done.append(line.rstrip())
        os.kill(station.pid, signal.SIGKILL)
        done += station.stdout.read().splitlines()  # answered before it died
    entries = read_journal(folder / "session.jsonl").entries
    kept = {entry.text for entry in entries if isinstance(entry, NoteEntry)}
    return len(done), [text for text in done if text not in kept]


def slow_down(by_s: float) -> None:
    """Make this process wait longer for the disk."""
    before = os.fsync

    def after(file: int) -> None:
        time.sleep(by_s)
        before(file)

    os.fsync = after  # type: ignore[assignment]


def notes_in_turn(folder: Path) -> None:
    """A station that runs until it is killed; each note that was answered is told on stdout."""
    model = TirelessModel()
    bench = Bench(folder, source=PacedSource(LONGEST_FRAMES), model=model)
    port = bench.station._link.start()
    client = LinkClient(port, bench.station._link.issue_token(Role.PANEL), Role.PANEL)
    client.start()

    def ask() -> None:
        wait_until(lambda: client.status().snapshot is not None and model.seen > 0)
        threading.Thread(target=_ping, args=(client,), daemon=True).start()
        number = 0
        while True:
            number += 1
            text = f"note {number}"
            client.ask(Note(id=number, text=text))
            if _answer(client):
                os.write(1, f"{text}\n".encode())
            time.sleep(PAUSE_S)

    bench.run(ask)


def _ping(client: LinkClient) -> None:
    while True:
        client.ping()
        time.sleep(0.2)


def _answer(client: LinkClient) -> bool:
    answers: list[Answered] = []

    def has_come() -> bool:
        answers.extend(client.take_answers())
        return bool(answers)

    wait_until(has_come)
    return answers[0].done


if __name__ == "__main__":
    sys.exit(main())
