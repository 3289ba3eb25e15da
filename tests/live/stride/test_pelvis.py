"""The pelvis's shift by side: what the picture says counts before what the landmarks say."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from live.measures.calibration import LANDMARKS, correction
from live.measures.scale import LEG_TO_FLOOR_OF_HEIGHT
from live.pipeline import Pipeline, Setup
from live.scene.leg_place import ACROSS
from shared.flow import Measure, Pose, Side, View
from shared.landmarks import Landmark as Lm
from shared.statistics import Z90
from shared.units import NS_PER_S
from tests.live.virtual_runner import Spoil, nobody, take
from tests.rendered.params import BySide, RunnerParams

HEIGHT_M = 1.66
PARAMS = RunnerParams(start_s=0.0, pelvic_shift_m=BySide(0.030, 0.012))
HIPS = [Lm.LEFT_HIP, Lm.RIGHT_HIP]


def true_poses(view: View) -> list[Pose]:
    return take(PARAMS, view, 12.0, spoil=Spoil(noise_px=0.0)).poses


def spoilt(poses: list[Pose], view: View) -> list[Pose]:
    """Hips whose landmarks wander with the legs, as those of clothed hips do."""
    stride_s = 2.0 * 60.0 / PARAMS.cadence_spm
    out = []
    for pose in poses:
        xy = pose.xy_px.copy()
        turn = 2.0 * np.pi * (pose.captured_ns - poses[0].captured_ns) / NS_PER_S / stride_s
        xy[HIPS, 0] += (4.0 if view is View.BEHIND else -4.0) * np.cos(turn + 0.6)
        out.append(replace(pose, xy_px=xy))
    return out


def shifts(view: View, pictures: bool) -> dict[Side | None, list[Measure]]:
    """What is measured after six seconds, by side; the hips in the picture are the true ones."""
    pipeline = Pipeline(Setup(view, HEIGHT_M))
    told = []
    true, before = true_poses(view), None
    for pose, seen in zip(true, spoilt(true, view), strict=True):
        update = pipeline.update(seen)
        hips = float(pose.xy_px[HIPS, 0].mean())
        if pictures and before is not None and pipeline.last_two_ns() is not None:
            pipeline.hips_went(hips - before)
        before = hips
        told += [m for m in update.measures if m.name == "pelvic_shift"]
    late = [m for m in told if m.at_ns > true[0].captured_ns + 6 * NS_PER_S]
    return {side: [m for m in late if m.side is side] for side in Side}


def test_left_against_right_is_as_the_picture_shows_it() -> None:
    differences = []
    for pictures, place in ((True, ACROSS), (False, LANDMARKS)):
        told = shifts(View.BEHIND, pictures)
        left, right = ([m.value for m in told[side]] for side in Side)
        assert min(len(left), len(right)) >= 5
        gain = correction("pelvic_shift", place).gain
        differences.append(float(np.mean(left) - np.mean(right)) / gain)
    by_picture, by_landmarks = differences
    assert by_picture == pytest.approx(100.0 * (0.030 - 0.012), abs=0.35)
    assert abs(by_landmarks - 1.8) > 0.5, "by the landmarks alone it is wrong"


def test_from_in_front_it_is_not_given() -> None:
    assert shifts(View.FRONT, pictures=True) == {side: [] for side in Side}


def test_each_has_an_uncertainty_of_its_own() -> None:
    for pictures, place in ((True, ACROSS), (False, LANDMARKS)):
        told = shifts(View.BEHIND, pictures)[Side.LEFT]
        leg_m = LEG_TO_FLOOR_OF_HEIGHT * HEIGHT_M
        sd = correction("pelvic_shift", place).sd
        for measure in told:
            assert measure.uncertainty == pytest.approx(Z90 * sd * leg_m, rel=0.03)


def test_only_two_frames_in_a_row_that_show_a_runner_are_asked_about() -> None:
    poses = true_poses(View.BEHIND)[:6]
    pipeline = Pipeline(Setup(View.BEHIND, HEIGHT_M))
    asked = []
    for pose in (poses[0], poses[1], nobody(poses[2]), poses[3], poses[4]):
        pipeline.update(pose)
        asked.append(pipeline.last_two_ns())
    stamps = [pose.captured_ns for pose in poses]
    assert asked == [
        None, (stamps[0], stamps[1]), None, (stamps[1], stamps[3]), (stamps[3], stamps[4])
    ]  # fmt: skip
    side = Pipeline(Setup(View.SIDE, HEIGHT_M))
    for pose in true_poses(View.SIDE)[:3]:
        side.update(pose)
    assert side.last_two_ns() is None
