"""Two cameras at once, side and behind: two stations on one computer, each a process of its own.

A session holds one camera, so two views at once are two stations: the first with the runner's
screen and the panel, the second without a window. Counted is what arrived while both were at work.
"""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any

from shared.clock import now_ns
from tests.accuracy.tracks import CLIPS
from tests.bench.result import Line, at_most, spread_ms, told
from tests.bench.stage import Stage

PAIRS = {30: ("side_06_long", "behind_01"), 60: ("side_09", "behind_04")}
QUICK = {30: PAIRS[30]}
TOGETHER_S = 20.0
STARTING_S = 15.0
SETTLED_NS = 4 * 10**9
"""Until then a station learns the stride."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """At 30 pictures a second nothing may be lost; at 60 it is told what gives."""
    lines: list[Line] = []
    figures: dict[str, Any] = {}
    stage.display()
    for fps, clips in (QUICK if stage.quick else PAIRS).items():
        found = together(clips, 3.0 if stage.quick else TOGETHER_S)
        figures[f"fps_{fps}"] = found
        for name, one in found.items():
            lost = f"{fps}/s: {name}: frames lost of {one['arrived']}"
            if fps == 30:
                lines.append(at_most(lost, one["lost"], 0, digits=0))
            else:
                share = 100 * one["lost"] / max(one["arrived"], 1)
                lines.append(Line(lost, f"{one['lost']} ({share:.1f} %)"))
            lines.append(Line(f"{fps}/s: {name}: arrival to decision", told(one["decision_ms"])))
    return lines, figures


def together(clips: tuple[str, str], seconds: float) -> dict[str, Any]:
    """Both stations until the same instant; what they did in the time that both had."""
    until_ns = now_ns() + round((STARTING_S + seconds) * 1e9)
    started = [
        subprocess.Popen(
            [sys.executable, "-m", "tests.bench.one_station", str(CLIPS / f"{name}.mp4"),
             name.split("_")[0], str(until_ns), "screens" if number == 0 else "none"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )
        for number, name in enumerate(clips)
    ]  # fmt: skip
    said = [one.communicate(timeout=STARTING_S + seconds + 60) for one in started]
    for one, (_, errors) in zip(started, said, strict=True):
        if one.returncode != 0:
            raise SystemExit(f"A station failed:\n{errors[-2000:]}")
    notes = [json.loads(out) for out, _ in said]
    from_ns = max(note["arrived_ns"][0] for note in notes) + SETTLED_NS
    return {
        name.split("_")[0]: _within(note, from_ns, until_ns - 10**9)
        for name, note in zip(clips, notes, strict=True)
    }


def _within(note: dict[str, Any], from_ns: int, to_ns: int) -> dict[str, Any]:
    arrived = [at for at in note["arrived_ns"] if from_ns <= at < to_ns]
    measured = {at: decision for at, decision in note["measured"] if from_ns <= at < to_ns}
    return {
        "arrived": len(arrived),
        "lost": sum(at not in measured for at in arrived),
        "decision_ms": spread_ms(list(measured.values())),
    }
