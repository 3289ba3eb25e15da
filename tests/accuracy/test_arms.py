"""Hands before the body where arms do not move as the invented gait's: what the pose model saw.

Captured arms of a real runner on drawn bodies, and invented arms that swing less far or further;
how they were made: `tests/rendered/captured_arms.py`.
"""

from __future__ import annotations

import numpy as np
import pytest

from shared.flow import Side
from tests.accuracy.tracks import pipeline_for, poses_of, truth_of
from tests.rendered.camera import make_camera
from tests.rendered.captured_arms import CAPTURED, CASES, TRACKS, gait_of
from tests.rendered.clip import Case, make_truth
from tests.rendered.track_file import ENDING

TELL_S = 6.0


def errors_cm(case: Case) -> dict[Side, tuple[float, float]]:
    """By side: how much further in a hand was told than it was, and the stated uncertainty."""
    path = TRACKS / f"{case.name}{ENDING}"
    pipeline, truth = pipeline_for(path), truth_of(path)
    told = [
        measure
        for pose in poses_of(path)
        for measure in pipeline.update(pose).measures
        if measure.name == "arm_crossing" and measure.at_ns / 1e9 - 1.0 > TELL_S
    ]
    found = {}
    for side in Side:
        strides = [s for s in truth.strides if s["side"] == side and s["from_s"] > TELL_S - 2.0]
        true = 100.0 * float(np.mean([s["arm_crossing_m"] for s in strides]))
        mine = [one for one in told if one.side is side]
        assert len(mine) >= 4
        off = float(np.mean([one.value for one in mine])) - true
        found[side] = off, float(np.mean([one.uncertainty for one in mine]))
    return found


@pytest.mark.parametrize("captured", [True, False], ids=["captured arms", "another swing"])
def test_how_far_a_hand_crosses_holds_on_arms_it_was_not_tuned_on(captured: bool) -> None:
    cases = [case for case in CASES if (case in CAPTURED) is captured]
    pairs = [pair for case in cases for pair in errors_cm(case).values()]
    off = np.array([off for off, _ in pairs])
    within = np.array([within for _, within in pairs])
    print(np.round(off, 1))
    assert len(off) == 6
    assert abs(off.mean()) <= 1.5
    assert np.median(np.abs(off)) <= 3.0
    assert np.mean(np.abs(off) <= within) >= 0.85


def test_the_kept_truth_is_what_the_recipe_gives_now() -> None:
    case = CASES[0]
    assert case in CAPTURED
    truth = make_truth(case, gait_of(case), make_camera(case.view))
    kept = truth_of(TRACKS / f"{case.name}{ENDING}")
    for side in Side:
        for name in ("arm_direction_deg", "arm_crossing_m", "arm_range_m"):
            assert kept.means[side][name] == pytest.approx(truth.means[side][name], abs=2e-4)


def test_captured_wrists_go_inward_while_the_elbows_do_not() -> None:
    """Why the elbow does not tell the wrist's way, and which way + is: inward."""
    (case,) = [case for case in CASES if case.name == "arms_captured"]
    gait = gait_of(case)
    arms = gait.motion(np.linspace(4.0, 4.0 + 120.0 / 168.0, 200, endpoint=False)).arms
    middle = (arms["left"].shoulder + arms["right"].shoulder) / 2.0
    for side, inward in (("left", -1.0), ("right", 1.0)):
        ways = {}
        for joint in ("elbow", "wrist"):
            path = (getattr(arms[side], joint) - middle)[:, :2]
            path = path - path.mean(axis=0)
            main = np.linalg.svd(path, full_matrices=False)[2][0]
            main = main * np.sign(main[0])
            ways[joint] = np.degrees(np.arctan2(inward * main[1], main[0]))
        assert ways["wrist"] > 20.0
        assert ways["elbow"] < 10.0
        assert truth_mean(case, side) == pytest.approx(ways["wrist"], abs=2.0)


def truth_mean(case: Case, side: str) -> float:
    return float(truth_of(TRACKS / f"{case.name}{ENDING}").means[side]["arm_direction_deg"])
