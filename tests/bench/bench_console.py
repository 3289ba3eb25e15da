"""From a console in one network namespace to the cue of a station in another; a script.

Run: python -m tests.bench.bench_console [--changes 200]     (Linux, as root)

The station is ``beltside run`` as anybody starts it, with the real pose model on the bundled clip
(a runner at 160 steps/min) and its screen. The console is paired with it by the code it prints, and
the two are joined by a pair of virtual Ethernet devices. First the cadence target is moved until
the runner is inside its band, and back: the cues must follow. Then it is moved again and again;
counted is from the request to the answer, as the console sees it. Afterwards the station's own
record is read: every step from the promised one on must have been judged by the new band. One line
of JSON on stdout; exit code 1 when a claim does not hold. The load average is told with it.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import numpy as np
import platformdirs

from feedback.journal.entries import CueEntry, JudgementEntry, TargetEntry
from feedback.journal.writer import read_journal
from feedback.link.address import DEFAULT_PORT, Address
from feedback.link.connect import pair_with
from feedback.link.consoles import KnownStation
from feedback.link.remote_client import RemoteClient
from shared.changes import Adjust, Answered, TargetState
from shared.clock import now_ns
from shared.flow import CueKind
from shared.problems import UserError
from tests.feedback.link.wires import DirectWire

MOST_MS: Final = 30.0
FEWEST: Final = 200
INSIDE_AIM, OUTSIDE_AIM = 160.0, 168.0
FAST_AIMS = (166.2, 168.0)
"""With each of them the runner stays below the band, so that each judgement tells its edge."""
PATIENCE_S: Final = 30.0


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--changes", type=int, default=FEWEST)
    options = parser.parse_args()
    wire = DirectWire()
    try:
        with tempfile.TemporaryDirectory() as folder:
            found = bench(wire, Path(folder), options.changes)
    finally:
        wire.remove()
    sys.stdout.write(json.dumps(found) + "\n")
    return int(not found["holds"])


class Console:
    """The far end: asks, waits for the answer, and keeps what it saw."""

    def __init__(self, client: RemoteClient, news: threading.Event) -> None:
        self.client = client
        self._news = news
        self._number = 0

    def target(self) -> TargetState:
        """The cadence target as it was shown last."""
        deadline = time.monotonic() + PATIENCE_S
        while True:
            snapshot = self.client.status().snapshot
            if snapshot is not None and snapshot.targets and snapshot.step_number > 10:
                return snapshot.targets[0]
            assert time.monotonic() < deadline, "the session did not begin"
            self.rest(0.05)

    def move(self, aim: float, target: TargetState) -> tuple[Answered, float]:
        """Move the target; the answer, and how long it took in ms."""
        self._number += 1
        asked = Adjust(id=self._number, number=0, revision=target.revision, aim=aim)
        self._news.clear()
        began_ns = now_ns()
        self.client.ask(asked)
        while now_ns() - began_ns < PATIENCE_S * 1e9:
            self._news.wait(0.05)
            self._news.clear()
            for answer in self.client.take_answers():
                return answer, (now_ns() - began_ns) / 1e6
        raise AssertionError("no answer came")

    def rest(self, seconds: float) -> None:
        """Let time pass, with signs of life."""
        until = time.monotonic() + seconds
        while (left := until - time.monotonic()) > 0:
            self.client.ping()
            time.sleep(min(left, 0.4))


def bench(wire: DirectWire, folder: Path, changes: int) -> dict[str, object]:
    """Hold a session, change its target, and read what came of it."""
    environment = {
        **os.environ,
        "XDG_DATA_HOME": str(folder),
        "XDG_CACHE_HOME": str(Path(platformdirs.user_cache_dir("beltside")).parent),
        "QT_QPA_PLATFORM": "offscreen",
    }
    words = [
        sys.executable,
        "-m",
        "feedback.cli.main",
        "run",
        "--athlete",
        "heron",
        "--clip",
        "side",
    ]
    words += ["--no-sound", "--no-report", "--pair", "--port", str(DEFAULT_PORT)]
    with subprocess.Popen(
        wire.station.command(*words), env=environment, stdout=subprocess.PIPE, text=True
    ) as station:
        try:
            assert station.stdout is not None
            code = code_in(station.stdout)
            news = threading.Event()
            place = Address(wire.station.address, DEFAULT_PORT)
            with wire.console.entered():
                known = pair_once_open(place, code)
                client = RemoteClient(known, lambda: (place,), news.set)
                client.start()
            console = Console(client, news)
            spans = change_all(console, changes)
            client.stop()
            console.rest(2.0)
            client.close()
        finally:
            station.send_signal(signal.SIGINT)
            station.wait(PATIENCE_S)
    (record,) = folder.rglob("*-heron-*.jsonl")
    return summary(record, spans)


def code_in(lines: Iterable[str]) -> str:
    """The code that the station prints."""
    for line in lines:
        if found := re.search(r"console: (\d{3}) (\d{3})", line):
            return found[1] + found[2]
    raise AssertionError("the station printed no code")


def pair_once_open(place: Address, code: str) -> KnownStation:
    """Pair as soon as the station listens."""
    deadline = time.monotonic() + PATIENCE_S
    while True:
        try:
            return pair_with(place, code, "bench")
        except UserError as error:
            if error.problem.code != "station_silent" or time.monotonic() > deadline:
                raise
        time.sleep(0.1)


def change_all(console: Console, changes: int) -> list[float]:
    """First slowly, for the cues; then fast, for the time."""
    for aim in (INSIDE_AIM, OUTSIDE_AIM):
        answer, _ = console.move(aim, console.target())
        assert answer.done, answer.why
        console.rest(9.0)  # some 24 steps; a cue may come every 8
    rng = random.Random(1)
    spans: list[float] = []
    target = console.target()
    while len(spans) < changes:
        answer, took_ms = console.move(round(rng.uniform(*FAST_AIMS), 1), target)
        assert answer.done, answer.why
        assert answer.target is not None
        target = answer.target
        spans.append(took_ms)
        console.rest(rng.uniform(0.1, 0.4))
    return spans


def summary(record: Path, spans: list[float]) -> dict[str, object]:
    """The figures, and whether each claim holds."""
    entries = read_journal(record).entries
    targets = [e for e in entries if isinstance(e, TargetEntry) and e.number == 0]
    cues = [e.cue for e in entries if isinstance(e, CueEntry) and e.cue.measure == "cadence"]
    judged = [
        e.judgement
        for e in entries
        if isinstance(e, JudgementEntry) and e.judgement.measure == "cadence"
    ]
    inside, outside = targets[0].from_step, targets[1].from_step
    fast = targets[2].from_step
    while_inside = [c.kind for c in cues if inside <= c.step_number < outside]
    while_outside = [c.kind for c in cues if outside <= c.step_number < fast]
    wrong = late = checked = 0
    for judgement in judged:
        held = [t for t in targets if t.from_step <= judgement.step_number]
        if not held or judgement.error >= 0 or held[-1].target.low is None:
            continue
        checked += 1
        edge = judgement.value - judgement.error
        wrong += abs(edge - held[-1].target.low) > 0.01
    for target in targets:
        measured = [j.step_number for j in judged if j.at_ns and j.captured_ns > target.at_ns]
        late += bool(measured) and target.from_step > measured[0]
    p50, p99 = (float(np.percentile(spans, share)) for share in (50, 99))
    holds = (
        p99 <= MOST_MS
        and len(spans) >= FEWEST
        and CueKind.OUT_OF_BAND not in while_inside
        and CueKind.BACK_IN_BAND in while_inside
        and CueKind.OUT_OF_BAND in while_outside
        and wrong == late == 0
        and checked > 20
    )
    return {
        "changes": len(spans),
        "round_trip_ms": {"p50": p50, "p99": p99, "most": max(spans), "least": min(spans)},
        "steps_judged_by_the_band_in_force": checked,
        "steps_judged_by_another": int(wrong),
        "changes_in_force_later_than_the_next_step": int(late),
        "cues_after_the_runner_was_inside": [str(kind) for kind in while_inside],
        "cues_after_the_runner_was_outside": [str(kind) for kind in while_outside],
        "load": os.getloadavg()[0],
        "holds": holds,
    }


if __name__ == "__main__":
    sys.exit(main())
