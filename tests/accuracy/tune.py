"""Learns the corrections in live/calibration.py from the tuning cases and prints them.

Run ``python -m tests.accuracy.tune`` after a change to the live core or to the clips, and put
what it prints into live/calibration.py (SIDE_YAW into live/placing.py) by hand. Only cases that
are not kept apart are read.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np

from live import calibration, placing
from live.measures import CADENCE_STEPS, LENGTHS
from live.readings import Scene
from live.scale import LEG_TO_FLOOR_OF_HEIGHT, trunk_length_px
from shared.records import FloatArray, View
from shared.statistics import Z90
from tests.accuracy.report import by_clip_and_side, every_case
from tests.accuracy.score import (
    Pair,
    belt_speed_off,
    score,
    shift_by_landmarks,
    whole_clip_asymmetry,
)
from tests.accuracy.sources import learnt_from
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of

GAIN_PRIOR_SD: Final = 0.1
"""How far from 1 a gain is expected to lie; keeps few clips from inventing one."""
FIT_GAIN: Final = frozenset({"strike_ahead", "pelvic_shift", "arm_crossing", "trunk_lean"})
"""Measures that the tuning cases vary widely; the truth of others moves too little for a gain."""
UNCORRECTED: Final = frozenset({"contact", "toe_off", "steps_span", "step_time", "step_asymmetry"})
"""Events are tuned by their blends; the rest follow from them. Only their sd is learnt."""
HELD: Final = 0.88
"""Share of a source's errors that the interval learnt from it would hold; 0.85 is asked for."""
FEWEST: Final = 4
"""Clips and sides of a source that tell how wide an interval must be."""
EITHER_LEG: Final = frozenset({"strike_ahead"})
"""Measures by side whose correction is the same for the near and the far leg; not so the sd."""


def fit_correction(
    pairs: list[Pair], line_from: list[Pair] | None = None
) -> calibration.Correction:
    """Gain and offset over clip means, each movement counting alike; sd from sources left out.

    ``line_from`` holds the pairs for gain and offset where they are more than those for the sd.
    Nobody who runs before the camera has a movement, a body or clothes that the corrections were
    learnt from. So the error of a clip is what remains with the line of the other sources, and the
    interval has to hold within every source that is left out, not on average.
    """
    name = pairs[0].name
    lines = _Lines(line_from or pairs, keep_gain=name not in FIT_GAIN)
    # The blends of the events' signs are learnt as an offset is, only elsewhere.
    gain, offset = (1.0, 0.0) if name in UNCORRECTED else lines.line()
    widest = 0.0
    for source in sorted({source for pair in pairs for source in pair.sources}):
        left_gain, left_offset = lines.line(without=source)
        off = [
            np.array([p.true - (left_gain * p.found + left_offset) for p in some])
            for some in by_clip_and_side([p for p in pairs if source in p.sources])
        ]
        if len(off) >= FEWEST:
            widest = max(widest, _sd(off))
    return calibration.Correction(round(gain, 3), round(offset, 2), widest)


class _Lines:
    """Lines through clip means, with a source left out or none."""

    def __init__(self, pairs: list[Pair], keep_gain: bool) -> None:
        self._keep_gain = keep_gain
        rows: dict[str, list[Pair]] = defaultdict(list)
        for pair in pairs:
            rows[pair.clip].append(pair)
        self._clips = [
            (
                some[0],
                float(np.mean([p.found for p in some])),
                float(np.mean([p.true for p in some])),
            )
            for some in rows.values()
        ]

    def line(self, without: str = "") -> tuple[float, float]:
        """Gain and offset."""
        kept = [one for one in self._clips if without not in one[0].sources]
        if not kept:
            kept = self._clips
        counts: dict[str, int] = defaultdict(int)
        for pair, _, _ in kept:
            counts[pair.movement] += 1
        worth = np.array([1.0 / counts[pair.movement] for pair, _, _ in kept])
        found, true = (np.array([one[i] for one in kept]) for i in (1, 2))
        return _line(found, true, worth, self._keep_gain)


def _sd(off: list[FloatArray], digits: int = 2) -> float:
    """SD whose 1.645-fold holds HELD of the errors of one source, however they are spread.

    ``off`` are the errors of one clip and side each. Most of an error is the same throughout a
    clip, so each counts as one.
    """
    sizes = np.abs(np.concatenate(off))
    worth = np.concatenate([np.full(len(one), 1.0 / len(one)) for one in off])
    held = np.quantile(sizes, HELD, weights=worth, method="inverted_cdf")
    return round(float(held) / Z90, digits)


def _line(
    found: FloatArray, true: FloatArray, worth: FloatArray, keep_gain: bool
) -> tuple[float, float]:
    """Weighted least squares, with a gain that few clips cannot move far from 1."""
    worth = worth * (len(worth) / worth.sum())
    middle, short = float(np.average(found, weights=worth)), true - found
    spread, short_spread = found - middle, short - np.average(short, weights=worth)
    gain = 1.0
    if not keep_gain and len(found) >= 4:
        size = float((worth * spread**2).sum())
        free = float((worth * spread * short_spread).sum()) / max(size, 1e-9)
        rest = short_spread - free * spread
        noise = float((worth * rest**2).sum()) / max(len(found) - 2, 1)
        gain += free * size / (size + noise / GAIN_PRIOR_SD**2)
    return gain, float(np.average(true, weights=worth)) - gain * middle


@cache
def _last_scene(path: Path) -> Scene | None:
    """How a case looks to the pipeline at its end."""
    pipeline = pipeline_for(path)
    for pose in poses_of(path):
        pipeline.update(pose)
    return pipeline.scene()


def body_length_gains(paths: list[Path]) -> dict[View, float]:
    """BODY_LENGTH_GAIN that makes the scale by body height right in each view."""
    body: dict[View, list[float]] = defaultdict(list)
    for path in paths:
        truth = truth_of(path)
        meta = truth.meta
        view = View(meta["view"])
        scene = _last_scene(path)
        if scene is None or scene.scale.by_height is None:
            continue
        hips = truth.joint("left_hip") + truth.joint("right_hip")
        depth = float(np.median((hips / 2.0 - truth.camera.position_m) @ truth.camera.axes[2]))
        body[view].append(truth.camera.fx / depth / scene.scale.by_height)
    return {v: float(np.median(some)) * calibration.BODY_LENGTH_GAIN[v] for v, some in body.items()}


def side_yaw_line(paths: list[Path]) -> tuple[float, float, float]:
    """SIDE_YAW of live/placing.py: start and slope in degrees; and the RMS of what remains."""
    seen = []
    for path in paths:
        meta = truth_of(path).meta
        if meta["view"] != "side":
            continue
        scene = _last_scene(path)
        if scene is not None:
            trunk_px = trunk_length_px(scene.mean)
            start, per = placing.SIDE_YAW
            found = placing.side_yaw_deg(scene.mean.all_round, trunk_px)
            seen.append(((found - start) / per, meta["yaw_deg"]))
    apart, yaw_deg = np.array(seen).T
    per, start = np.polyfit(apart, yaw_deg, 1)
    rest = yaw_deg - (start + per * apart)
    return float(start), float(per), float(np.sqrt(np.mean(rest**2)))


def belt_speed_fit(paths: list[Path], shoes: bool) -> tuple[float, float]:
    """Gain by which a belt speed read from the picture is to be multiplied, and its SD as a share.

    By the shoes, or by the landmarks alone. Hangs on the gains of the body's length: tune again
    when those have changed. The SD is with builds left out in turn.
    """
    off: dict[Path, float] = {}
    for path in paths:
        if truth_of(path).meta["view"] != "side":
            continue
        found, within = belt_speed_off(path, shoes)
        if not shoes or math.isclose(within, Z90 * calibration.SHOE_SPEED_SD, rel_tol=1e-3):
            off[path] = found
    build = {path: truth_of(path).meta["body"] for path in off}
    left = []
    for path, found in off.items():
        others = [off[other] for other in off if build[other] != build[path]]
        left.append(np.array([found - float(np.mean(others))]))
    return 1.0 / (1.0 + float(np.mean(list(off.values())))), _sd(left, digits=4)


def main(arguments: list[str]) -> int:
    """Print the gains and the table, from the clips named or else from all tuning cases."""
    named = [Path(name) for name in arguments]
    paths = [path for path in named or every_case() if not truth_of(path).meta["kept_apart"]]
    if not paths:
        print("no tuning clips found", file=sys.stderr)
        return 1
    body = body_length_gains(paths)
    gains = ", ".join(f"View.{view.name}: {gain:.3f}" for view, gain in body.items())
    print(f"BODY_LENGTH_GAIN: Final = {{{gains}}}")
    start, per, off_deg = side_yaw_line(paths)
    print(f"SIDE_YAW: Final = ({start:.1f}, {per:.1f})  # {off_deg:.1f} degrees off (RMS)")
    gain, sd = belt_speed_fit(paths, shoes=False)
    print(f"BELT_SLOPE_GAIN: Final = {gain * calibration.BELT_SLOPE_GAIN:.3f}")
    print(f"BELT_SPEED_SD: Final = {sd}")
    gain, sd = belt_speed_fit(paths, shoes=True)
    print(f"SHOE_SPEED_GAIN: Final = {gain * calibration.SHOE_SPEED_GAIN:.3f}")
    print(f"SHOE_SPEED_SD: Final = {sd}")
    learnt = dict(calibration.CORRECTIONS)
    calibration.CORRECTIONS.clear()
    by_key: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    try:
        for path in paths:
            meta = truth_of(path).meta
            measured = score(path).pairs
            others = [pair for pair in measured if pair.name != "step_asymmetry"]
            others += whole_clip_asymmetry(measured) + shift_by_landmarks(path)
            for pair in others:
                if not learnt_from(pair.name, pair.view, pair.movement):
                    continue
                changed = _learnable(pair, meta)
                by_key[(changed.name, changed.place)].append(changed)
    finally:
        calibration.CORRECTIONS.update(learnt)
    for key, pairs in sorted(by_key.items()):
        either = key[0] in EITHER_LEG
        both = [pair for (name, _), some in by_key.items() if name == key[0] for pair in some]
        fix = fit_correction(pairs, both if either else None)
        print(f'    ("{key[0]}", "{key[1]}"): Correction({fix.gain}, {fix.offset}, {fix.sd}),')
    return 0


def _learnable(pair: Pair, meta: dict[str, Any]) -> Pair:
    """The pair in the terms of the table: lengths in % of leg length, times for what hangs on one.

    A cadence of 8 steps errs by cadence squared x error / 480 s; a step's length by speed x error.
    """
    if pair.name in LENGTHS:
        leg_m = LEG_TO_FLOOR_OF_HEIGHT * meta["height_m"]
        return replace(pair, found=pair.found / leg_m, true=pair.true / leg_m)
    if pair.name == "cadence":
        span_ms = 1000.0 * 60.0 * CADENCE_STEPS
        return replace(
            pair, name="steps_span", found=span_ms / pair.found, true=span_ms / pair.true
        )
    if pair.name == "step_length":
        ms = 10.0 / meta["belt_speed_mps"]
        return replace(pair, name="step_time", found=ms * pair.found, true=ms * pair.true)
    return pair


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
