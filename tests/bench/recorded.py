"""A recorded video to its report with ``beltside measure``: times real time, and cores at work.

The program as a user starts it, from its start to its end: Python, the model's loading and all.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from tests.accuracy.tracks import CLIPS, truth_of
from tests.bench.result import Line
from tests.bench.stage import Stage

CASES = ("side_06_long", "side_09")
QUICK = ("side_01_near",)


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """One clip at 30 and one at 60 pictures a second."""
    lines = []
    figures: dict[str, Any] = {}
    for name in QUICK if stage.quick else CASES:
        found = measured(CLIPS / f"{name}.mp4")
        figures[name] = found
        what = f"{found['video_s']:.0f} s of video at {found['fps']:.0f}/s"
        lines += [
            Line(f"{what}: times real time", f"{found['times_real_time']:.1f}"),
            Line(
                f"{what}: wall, processor time, cores at work",
                f"{found['wall_s']:.1f} s, {found['processor_s']:.1f} s, {found['cores']:.2f}",
            ),
        ]
    return lines, figures


def measured(clip: Path) -> dict[str, float]:
    """Wall and processor time of one measuring."""
    meta = truth_of(clip).meta
    command = [
        *(sys.executable, "-m", "feedback.cli.main", "measure", str(clip), "--view", meta["view"]),
        *("--height-cm", f"{100 * meta['height_m']:.0f}", "--json"),
    ]
    before, began = _processor_s(), time.monotonic()
    done = subprocess.run(command, capture_output=True, text=True, timeout=600)
    wall_s, processor_s = time.monotonic() - began, _processor_s() - before
    if done.returncode != 0:
        raise SystemExit(f"Measuring failed:\n{done.stderr[-2000:]}")
    return {
        "video_s": meta["duration_s"],
        "fps": meta["fps"],
        "wall_s": round(wall_s, 2),
        "processor_s": round(processor_s, 2),
        "cores": round(processor_s / wall_s, 2),
        "of_cores": float(len(os.sched_getaffinity(0))),
        "times_real_time": round(meta["duration_s"] / wall_s, 2),
    }


def _processor_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
