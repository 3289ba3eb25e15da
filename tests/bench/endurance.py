"""Two hours: what memory, threads, files, record and beat come to. Compressed, and in real time.

Compressed: the landmarks of a looping clip go through pipeline, session and journal as fast as
they can, with stamps as in real time. Real time: a whole station with model, pictures kept, screens
and a beat that is listened to; ``--endurance-minutes`` says for how long.
"""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from feedback.demo import demo_clip, demo_profile
from feedback.sound.speaker import Speaker
from feedback.station.setup import StationSetup
from feedback.station.station import Station
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.flow import View
from tests.bench.listening import BeatListener
from tests.bench.result import Line, at_most
from tests.bench.stage import Stage, hold, panel, runner_screen

COMPRESSED_MIN = 120.0
TEMPO_SPM = 168.0
MOST_GROWTH = 2.0
MOST_DRIFT_MS = 1.0
LOOK_EVERY_S = 5.0
WARM_UP_SHARE = 0.25
"""Memory of this first part is left out: buffers of a fixed length fill up in it."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """Compressed in a process of its own, then in real time."""
    compressed_min = 2.0 if stage.quick else COMPRESSED_MIN
    done = subprocess.run(
        [sys.executable, "-m", "tests.bench.compressed", f"{compressed_min}"],
        capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode != 0:
        raise SystemExit(f"The compressed run failed:\n{done.stderr[-2000:]}")
    compressed = json.loads(done.stdout)
    memory = np.array(compressed["memory_mb"])
    growth = growth_percent(memory)
    what = f"{compressed_min:.0f} min compressed: "
    lines = [
        at_most(f"{what}memory, growth after warm-up", growth, MOST_GROWTH, "%"),
        Line(f"{what}memory at the end", f"{memory[-1]:.0f} MB"),
        Line(f"{what}record", f"{compressed['journal_mb']:.1f} MB"),
        Line(f"{what}took", f"{compressed['took_s']:.0f} s"),
    ]
    figures = {"compressed": {**compressed, "growth_percent": growth}}
    minutes = 0.3 if stage.quick else stage.endurance_min
    if minutes > 0:
        more, figures["real"] = real_time(stage, minutes)
        lines += more
    return lines, figures


def growth_percent(memory: np.ndarray) -> float:
    """From the end of the warm-up to the end: both the median of a tenth of the run."""
    tenth = max(1, len(memory) // 10)
    first = round(len(memory) * WARM_UP_SHARE)
    early = float(np.median(memory[first : first + tenth]))
    return round(100.0 * (float(np.median(memory[-tenth:])) - early) / early, 2)


@dataclass
class Look:
    """What one process holds at one time."""

    memory_mb: float
    threads: int
    files: int


def look_at(pid: int) -> Look | None:
    """From /proc; None when the process has ended."""
    try:
        said = Path(f"/proc/{pid}/status").read_text()
        files = sum(1 for _ in Path(f"/proc/{pid}/fd").iterdir())
    except OSError:
        return None
    values = dict(line.split(":", 1) for line in said.splitlines())
    return Look(int(values["VmRSS"].split()[0]) / 1024, int(values["Threads"]), files)


def real_time(stage: Stage, minutes: float) -> tuple[list[Line], dict[str, Any]]:
    """A whole station on the looping clip, with all that a clinic would have open."""
    stage.display()
    sound = stage.sound
    speaker = Speaker()
    speaker.open()
    path = stage.folder / "session.jsonl"
    pids: dict[str, int] = {"station": os.getpid()}

    def spawned(name: str, spawn: Any) -> Any:
        def start(port: int, token: str) -> Any:
            process = spawn(port, token)
            pids[name] = process.pid
            return process

        return start

    order = StationSetup(
        athlete=_beaten(),
        view=View.SIDE,
        source=FileSource(demo_clip(View.SIDE), as_live=True, loop=True),
        model=PoseModel(),
        speaker=speaker,
        spawn_screen=spawned("runner's screen", runner_screen),
        spawn_panel=spawned("panel", panel),
        time_limit_s=60 * minutes,
        keep_pictures=True,
        start_at_once=True,
        linger_s=0.0,
    )
    looks: dict[str, list[Look]] = {}
    over = threading.Event()

    def watch(_station: Station, _speaker: Any) -> None:
        until = time.monotonic() + 60 * minutes - 2.0
        while time.monotonic() < until and not over.wait(LOOK_EVERY_S if minutes > 2 else 0.5):
            for name, pid in pids.items():
                found = look_at(pid)
                if found is not None:
                    looks.setdefault(name, []).append(found)

    listener = BeatListener(sound.environment)
    listener.start()
    try:
        outcome, entries = hold(order, path, watch)
    finally:
        over.set()
        listener.end()
    drift, sd, breaks = listener.beats_drift(TEMPO_SPM)
    of_output = listener.output_drift_ms_per_min()
    figures: dict[str, Any] = {
        "minutes": minutes,
        "ended": outcome.reason.value,
        "problem": None if outcome.problem is None else outcome.problem.title,
        "details": None if outcome.problem is None else outcome.problem.details,
        "frames": outcome.tally.frames,
        "dropped": outcome.dropped,
        "entries": len(entries),
        "journal_mb": round(path.stat().st_size / 1e6, 2),
        "beats": len(listener.onsets),
        "beat_drift_ms_per_min": round(drift, 4),
        "beat_sd_ms": round(sd, 4),
        "breaks": breaks,
        "device_ran_dry": speaker.dropouts,
        "output_clock_ms_per_min": round(of_output, 4),
        "looks": {n: [dataclasses.astuple(one) for one in seen] for n, seen in looks.items()},
    }
    return real_lines(minutes, looks, figures), figures


def real_lines(minutes: float, looks: dict[str, list[Look]], figures: dict[str, Any]) -> list[Line]:
    """The real run in words."""
    what = f"{minutes:.0f} min real: "
    lines = []
    for name, seen in looks.items():
        memory = np.array([one.memory_mb for one in seen])
        growth = growth_percent(memory)
        lines.append(at_most(f"{what}{name}: memory, growth", growth, MOST_GROWTH, "%"))
        first, last = seen[len(seen) // 10], seen[-1]
        told = f"{memory[-1]:.0f} MB, {first.threads} to {last.threads} threads, "
        lines.append(Line(f"{what}{name}", f"{told}{first.files} to {last.files} files"))
    total = figures["beat_drift_ms_per_min"] + figures["output_clock_ms_per_min"]
    hourly = figures["journal_mb"] / minutes * 60
    lost = f"{figures['dropped']} of {figures['frames'] + figures['dropped']}"
    return [
        *lines,
        at_most(f"{what}beat against the clock, ms a minute", abs(total), MOST_DRIFT_MS, "ms", 3),
        Line(
            f"{what}beats, SD, breaks, device ran dry",
            f"{figures['beats']}, {figures['beat_sd_ms']:.3f} ms, {figures['breaks']}, "
            f"{figures['device_ran_dry']}",
        ),
        Line(f"{what}record", f"{figures['journal_mb']:.1f} MB ({hourly:.1f} MB an hour)"),
        Line(f"{what}frames lost", lost),
        Line(f"{what}ended by", figures["problem"] or figures["ended"]),
    ]


def _beaten() -> Any:
    """The demo's athlete, with a target that is met, so that the beat alone is heard."""
    athlete = demo_profile(View.SIDE).athlete
    target = msgspec.structs.replace(athlete.targets[0], low=120.0, high=220.0, beat_spm=TEMPO_SPM)
    return msgspec.structs.replace(athlete, targets=(target, *athlete.targets[1:]))
