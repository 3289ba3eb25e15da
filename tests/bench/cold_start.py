"""``beltside demo`` from its start to the first cue: in a new process, with a warm disk cache."""

from __future__ import annotations

import math
import os
import subprocess
import sys
import time
from typing import Any

from shared.clock import now_ns
from tests.bench.result import Line
from tests.bench.stage import Stage

LONGEST_S = 60.0
LOUD = 1e-3


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """Three starts; the middle one counts."""
    starts = [one_start(stage) for _ in range(1 if stage.quick else 3)]
    figures: dict[str, Any] = {"starts": starts}
    lines = []
    for key, what in (
        ("open_s", "start to the first words"),
        ("first_value_s", "start to the first measured step"),
        ("first_cue_s", "start to the first cue"),
        ("first_sound_s", "start to the first sound (the beat)"),
    ):
        middle = sorted(start.get(key, math.inf) for start in starts)[len(starts) // 2]
        figures[key] = middle
        lines.append(Line(f"{what}, median of {len(starts)}", f"{middle:.1f} s"))
    return lines, figures


def one_start(stage: Stage) -> dict[str, float]:
    """Seconds from the start of the process until each came."""
    command = [
        sys.executable,
        "-u",
        "-m",
        "feedback.cli.main",
        "demo",
        "--headless",
        "--seconds",
        "40",
    ]
    found: dict[str, float] = {}
    with stage.sound.recorder() as recorder:
        environment = {**os.environ, "PYTHONUNBUFFERED": "1"}  # with the recorded output in it
        began_ns = now_ns()
        process = subprocess.Popen(
            command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert process.stdout is not None
        for line in process.stdout:
            gone_s = (now_ns() - began_ns) / 1e9
            found.setdefault("open_s", gone_s)
            if "steps/min" in line or "cm" in line:
                found.setdefault("first_value_s", gone_s)
            if " CUE " in line:
                found.setdefault("first_cue_s", gone_s)
                break
            if gone_s > LONGEST_S:
                break
        time.sleep(0.3)
        process.terminate()
        process.wait(20)
        heard = recorder.finish()
    bursts = heard.bursts(threshold=LOUD)
    if bursts:
        found["first_sound_s"] = (heard.at_ns(bursts[0][0]) - began_ns) / 1e9
    return {key: round(value, 2) for key, value in found.items()}
