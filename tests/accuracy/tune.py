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
from scipy import stats

from live import calibration, harmonics, placing
from live.harmonics import TWO_PI
from live.measures import CADENCE_STEPS, LENGTHS
from live.readings import Scene
from live.scale import LEG_TO_FLOOR_OF_HEIGHT, trunk_length_px
from shared.records import FloatArray, View
from shared.statistics import Z90
from tests.accuracy.report import all_cases, by_clip_and_side
from tests.accuracy.score import (
    Pair,
    belt_speed_off,
    score,
    shift_by_landmarks,
    whole_clip_asymmetry,
)
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of

GAIN_PRIOR_SD: Final = 0.1
"""How far from 1 a gain is expected to lie; keeps few clips from inventing one."""
FIT_GAIN: Final = frozenset({"strike_ahead", "pelvic_shift", "trunk_lean"})
"""Measures that the tuning cases vary widely; the truth of others moves too little for a gain."""
UNCORRECTED: Final = frozenset({"contact", "toe_off", "steps_span", "step_time", "step_asymmetry"})
"""Events are tuned by their blends; the rest follow from them. Only their sd is learnt."""
BY_BUILDS: Final = frozenset({("toe_off", calibration.ACROSS)})
"""Errors that go with the build more than with all else: early in one, late in another."""
BY_SOURCES: Final = frozenset({"arm_crossing"})
"""Measures whose correction rests on more sources of movement than the tuning cases, which are all
of one invented gait (`tests/accuracy/test_arms.py`): printed as it is."""
EITHER_LEG: Final = frozenset({"strike_ahead"})
"""Measures by side whose correction is the same for the near and the far leg; not so the sd."""


def fit_correction(
    pairs: list[Pair], line_from: list[Pair] | None = None
) -> calibration.Correction:
    """Gain and offset over clip means, each clip counting alike; sd from builds left out.

    ``line_from`` holds the pairs for gain and offset where they are more than those for the sd.
    Nobody who runs before the camera has a build that the corrections were learnt from. So the
    error of a clip is what remains with the line of the other builds.
    """
    name = pairs[0].name
    rows = _by_clip(line_from or pairs)
    found = {clip: float(np.mean([p.found for p in some])) for clip, some in rows.items()}
    true = {clip: float(np.mean([p.true for p in some])) for clip, some in rows.items()}
    build = {clip: some[0].build for clip, some in rows.items()}

    def line(without: str = "") -> tuple[float, float]:
        kept = [clip for clip in rows if build[clip] != without]
        x, y = (np.array([of[clip] for clip in kept]) for of in (found, true))
        return _line(x, y, keep_gain=name not in FIT_GAIN)

    off = []
    for some in by_clip_and_side(pairs):
        gain, offset = line(without=some[0].build if len(set(build.values())) > 1 else "")
        off.append(np.array([p.true - (gain * p.found + offset) for p in some]))
    # The blends of the events' signs are fitted as an offset is, only elsewhere.
    gain, offset = (1.0, 0.0) if name in UNCORRECTED else line()
    sd = _sd_by_builds(off) if (name, pairs[0].place) in BY_BUILDS else _sd(off)
    return calibration.Correction(round(gain, 3), round(offset, 2), sd)


def _by_clip(pairs: list[Pair]) -> dict[str, list[Pair]]:
    groups: dict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        groups[pair.clip].append(pair)
    return groups


def _sd(off: list[FloatArray], digits: int = 2) -> float:
    """SD whose 1.645-fold holds 90 % of the errors of one more clip, however they are spread.

    ``off`` are the errors of one clip and side each. Most of an error is the same throughout a
    clip, so each counts as one. Their own quantile is taken, since few errors are spread by the
    normal curve, and of N a little more than 90 %: 0.9 (N + 1) / N, as in conformal prediction
    (Vovk, Gammerman and Shafer, Algorithmic Learning in a Random World, 2005; from memory).
    """
    sizes = np.abs(np.concatenate(off))
    worth = np.concatenate([np.full(len(one), 1.0 / len(one)) for one in off])
    share = min(0.9 * (len(off) + 1) / len(off), 1.0)
    held = np.quantile(sizes, share, weights=worth, method="inverted_cdf")
    return round(float(held) / Z90, digits)


def _sd_by_builds(off: list[FloatArray]) -> float:
    """The same where a few builds are all there is to go by, which have no quantile.

    The errors' root mean square, wider by Student's t.
    """
    wider = float(stats.t.ppf(0.95, len(off) - 1)) / Z90
    return round(wider * float(np.sqrt(np.mean([np.mean(one**2) for one in off]))), 2)


def _line(found: FloatArray, true: FloatArray, keep_gain: bool) -> tuple[float, float]:
    middle = found.mean()
    spread = found - middle
    short = true - found
    gain = 1.0
    if not keep_gain and len(found) >= 4:
        free = float(spread @ (short - short.mean())) / max(float(spread @ spread), 1e-9)
        rest = short - short.mean() - free * spread
        noise = float(rest @ rest) / max(len(found) - 2, 1)
        gain += float(spread @ (short - short.mean())) / (
            float(spread @ spread) + noise / GAIN_PRIOR_SD**2
        )
    return gain, float(true.mean() - gain * middle)


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
    paths = [path for path in named or all_cases() if not truth_of(path).meta["kept_apart"]]
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
                changed = _learnable(pair, meta)
                by_key[(changed.name, changed.place)].append(changed)
    finally:
        calibration.CORRECTIONS.update(learnt)
    for key, pairs in sorted(by_key.items()):
        either = key[0] in EITHER_LEG
        both = [pair for (name, _), some in by_key.items() if name == key[0] for pair in some]
        fix = fit_correction(pairs, both if either else None)
        if key[0] in BY_SOURCES:
            fix = learnt[key]
        if key == ("contact", calibration.ACROSS):
            # A sign that most of the few clips across have alike: all views tell how far it goes.
            fix = replace(fix, sd=round(float(np.hypot(fix.sd, late_falls_sd_ms(paths))), 2))
        print(f'    ("{key[0]}", "{key[1]}"): Correction({fix.gain}, {fix.offset}, {fix.sd}),')
    return 0


def late_falls_sd_ms(paths: list[Path]) -> float:
    """SD over clips of how long after contact the drawn body truly falls fastest, ms.

    Mid-hips over the time since the nearest contact, three harmonics of the step.
    """
    lags = []
    for path in paths:
        truth = truth_of(path)
        times = np.asarray(truth.frame_time_s)
        hips = (truth.joint("left_hip") + truth.joint("right_hip"))[:, 2] / 2.0
        contacts = np.array([e["time_s"] for e in truth.events if e["kind"] == "contact"])
        running = (times > contacts[3]) & (times < contacts[-3])
        nearest = np.abs(times[running, None] - contacts[None, :]).argmin(axis=1)
        since = times[running] - contacts[nearest]
        rate = TWO_PI * truth.meta["cadence_spm"] / 60.0
        columns = harmonics.basis(rate * since, 3)
        fitted = np.linalg.lstsq(columns, hips[running], rcond=None)[0]
        fall = -np.gradient(harmonics.basis(harmonics.PHASES, 3) @ fitted)
        angle = harmonics.PHASES[int(np.argmax(fall))]
        lags.append(1000.0 * float((angle + np.pi) % TWO_PI - np.pi) / rate)
    return float(np.std(lags))


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
