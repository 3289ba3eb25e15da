"""Learns the corrections in live/measures/calibration.py from the tuning cases and prints them.

Run ``python -m tests.accuracy.tune`` after a change to the live core or to the clips, and put
what it prints into live/measures/calibration.py by hand (SIDE_YAW into
live/scene/camera_placement.py, OF_BOTH into feedback/training/side_difference.py). Only cases that
are not kept apart are read.
"""

from __future__ import annotations

import math
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

import numpy as np

from live.measures import calibration
from live.measures.readings import Scene
from live.measures.scale import trunk_length_px
from live.scene import camera_placement
from shared.flow import View
from shared.statistics import Z90
from tests.accuracy.learn import (
    between_sides_share,
    fit_correction,
    held_sd,
    raw_pairs,
    two_sided,
)
from tests.accuracy.report import every_case
from tests.accuracy.score import belt_speed_off
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of

BY_SOURCES = frozenset({"arm_crossing"})
"""Learnt from sources of its own (`tests/accuracy/test_arms.py`): printed as it is."""


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
    """SIDE_YAW of live.scene.camera_placement: start and slope in degrees, and the RMS left."""
    seen = []
    for path in paths:
        meta = truth_of(path).meta
        if meta["view"] != "side":
            continue
        scene = _last_scene(path)
        if scene is not None:
            trunk_px = trunk_length_px(scene.mean)
            start, per = camera_placement.SIDE_YAW
            found = camera_placement.side_yaw_deg(scene.mean.all_round, trunk_px)
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
    return 1.0 / (1.0 + float(np.mean(list(off.values())))), held_sd(left, digits=4)


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
    by_key = raw_pairs(paths)
    for key in sorted(by_key):
        if key[0] in BY_SOURCES:
            fix = calibration.CORRECTIONS[key]
            print(f'    ("{key[0]}", "{key[1]}"): {fix},  # as it is')
            continue
        fix = fit_correction(by_key, key)
        print(f'    ("{key[0]}", "{key[1]}"): Correction({fix.gain}, {fix.offset}, {fix.sd}),')
    print("OF_BOTH: Final[dict[str, float]] = {")
    for name in sorted({name for name, _ in by_key if two_sided(by_key, name)}):
        print(f'    "{name}": {between_sides_share(by_key, name):.2f},')
    print("}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
