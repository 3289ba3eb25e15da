"""Learns the corrections in live/calibration.py from the tuning cases and prints them.

Run ``python -m tests.accuracy.tune`` after a change to the live core or to the clips, and put
what it prints into live/calibration.py by hand. Only cases that are not kept apart are read.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np

from live import calibration
from live.measures import EITHER_LEG, LENGTHS
from live.pipeline import Pipeline, Setup
from live.scale import LEG_TO_FLOOR_OF_HEIGHT
from shared.records import FloatArray, View
from tests.accuracy.report import counts
from tests.accuracy.score import Pair, score
from tests.accuracy.tracks import clips, poses_of, truth_of

GAIN_PRIOR_SD: Final = 0.1
"""How far from 1 a gain is expected to lie; keeps few clips from inventing one."""
FIT_GAIN: Final = frozenset({"strike_ahead", "pelvic_shift", "arm_crossing", "trunk_lean"})
"""Measures that the tuning cases vary widely; the truth of others moves too little for a gain."""
UNCORRECTED: Final = frozenset({"contact", "toe_off", "cadence", "step_length", "step_asymmetry"})
"""Events are tuned by their blends; the rest follow from them. Only their sd is learnt."""


TYPICAL_STEP_MS: Final = 355.0
"""At 169 steps/min (Lieberman et al. 2015)."""
PLACELESS: Final = EITHER_LEG | {"contact", "toe_off"}


def fit_correction(pairs: list[Pair]) -> calibration.Correction:
    """Gain and offset over clip means, each clip counting alike; sd from clips left out."""
    groups: dict[str, list[Pair]] = defaultdict(list)
    for pair in pairs:
        groups[pair.clip].append(pair)
    found = np.array([np.mean([p.found for p in group]) for group in groups.values()])
    true = np.array([np.mean([p.true for p in group]) for group in groups.values()])
    keep_gain = pairs[0].name not in FIT_GAIN
    plain = pairs[0].name in UNCORRECTED
    gain, offset = (1.0, 0.0) if plain else _line(found, true, keep_gain)
    errors, weights = [], []
    for index, group in enumerate(groups.values()):
        others = np.arange(len(found)) != index
        if others.sum() >= 3 and not plain:
            fold_gain, fold_offset = _line(found[others], true[others], keep_gain)
        else:
            fold_gain, fold_offset = gain, offset
        errors += [p.true - (fold_gain * p.found + fold_offset) for p in group]
        weights += [1.0 / len(group)] * len(group)
    sd = _quantile(np.abs(errors), np.array(weights), 0.90) / 1.645
    return calibration.Correction(round(gain, 3), round(offset, 2), round(sd, 2))


def asymmetry_sd(contacts: list[Pair]) -> float:
    """SD of the symmetry index (points) that the contacts' errors by side leave.

    Only long clips hold twenty strides, but every clip tells how differently the two feet are
    timed: a difference of d lengthens one step and shortens the other by d.
    """
    by_clip: dict[str, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for pair in contacts:
        by_clip[pair.clip][pair.side].append(pair.found - pair.true)
    off = [np.mean(sides["right"]) - np.mean(sides["left"]) for sides in by_clip.values()]
    return round(float(200.0 * np.sqrt(np.mean(np.square(off))) / TYPICAL_STEP_MS), 2)


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


def _quantile(values: FloatArray, weights: FloatArray, share: float) -> float:
    order = np.argsort(values)
    total = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(total, share * total[-1])])


def scale_gains(paths: list[Path]) -> tuple[float, float]:
    """(BODY_LENGTH_GAIN, BELT_SLOPE_GAIN) that make the rendered scales right on average."""
    body, belt = [], []
    for path in paths:
        truth = truth_of(path)
        meta = truth.meta
        view = View(meta["view"])
        pipeline = Pipeline(Setup(view, meta["height_m"], meta["belt_speed_mps"]))
        for pose in poses_of(path):
            pipeline.update(pose)
        scene = pipeline.scene()
        if scene is None:
            continue
        hips = truth.joint("left_hip") + truth.joint("right_hip")
        depth = float(np.median((hips / 2.0 - truth.camera.position_m) @ truth.camera.axes[2]))
        true_scale = truth.camera.fx / depth
        if scene.scale.by_height is not None:
            body.append(true_scale / scene.scale.by_height)
        if scene.scale.by_belt is not None:
            belt.append(true_scale / scene.scale.by_belt)
    return (
        float(np.median(body)) * calibration.BODY_LENGTH_GAIN,
        float(np.median(belt)) * calibration.BELT_SLOPE_GAIN if belt else 1.0,
    )


def main(arguments: list[str]) -> int:
    """Print the gains and the table, from the clips named or else from all tuning cases."""
    named = [Path(name) for name in arguments]
    paths = [
        path for path in named or clips() if counts(path) and not truth_of(path).meta["kept_apart"]
    ]
    if not paths:
        print("no tuning clips found", file=sys.stderr)
        return 1
    body, belt = scale_gains(paths)
    print(f"BODY_LENGTH_GAIN: Final = {body:.3f}\nBELT_SLOPE_GAIN: Final = {belt:.3f}")
    learnt = dict(calibration.CORRECTIONS)
    calibration.CORRECTIONS.clear()
    by_key: dict[tuple[str, str], list[Pair]] = defaultdict(list)
    try:
        for path in paths:
            leg_m = LEG_TO_FLOOR_OF_HEIGHT * truth_of(path).meta["height_m"]
            for pair in score(path).pairs:
                place = calibration.ANY if pair.name in PLACELESS else pair.place
                if pair.name in LENGTHS:  # cm to % of leg length
                    pair = replace(pair, found=pair.found / leg_m, true=pair.true / leg_m)
                by_key[(pair.name, place)].append(pair)
    finally:
        calibration.CORRECTIONS.update(learnt)
    for key, pairs in sorted(by_key.items()):
        fix = fit_correction(pairs)
        if key[0] == "step_asymmetry":
            fix = replace(fix, sd=asymmetry_sd(by_key[("contact", calibration.ANY)]))
        print(f'    ("{key[0]}", "{key[1]}"): Correction({fix.gain}, {fix.offset}, {fix.sd}),')
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
