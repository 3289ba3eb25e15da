"""How far a hand crosses: a virtual runner before cameras that stand in front, and elsewhere."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from live.measures.arms import aside
from live.pipeline import Pipeline, Setup
from shared.flow import Side, View
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import BySide, RunnerParams

PARAMS = RunnerParams(start_s=0.0, arm_direction_deg=BySide(10.0, 45.0))
SECONDS = 10.0


@cache
def after(aside_deg: float, view: View = View.FRONT) -> Pipeline:
    """A pipeline that saw the run from a camera so far aside."""
    pipeline = Pipeline(Setup(view, height_m=1.66))
    for pose in take(PARAMS, view, SECONDS, spoil=Spoil(aside_deg=aside_deg)).poses:
        pipeline.update(pose)
    return pipeline


def crossing_cm(aside_deg: float) -> dict[Side | None, float]:
    told = after(aside_deg).summary()
    return {one.side: one.value for one in told if one.name == "arm_crossing"}


def test_a_hand_that_swings_across_is_told_from_one_that_does_not() -> None:
    arms = take(PARAMS, View.FRONT, SECONDS).gait.motion(np.arange(3.0, 9.0, 0.01)).arms
    middle = (arms["left"].shoulder + arms["right"].shoulder) / 2.0
    found = crossing_cm(0.0)
    for side, inward in ((Side.LEFT, -1.0), (Side.RIGHT, 1.0)):
        true = 100.0 * float((inward * (arms[side].wrist - middle)[:, 1]).max())
        assert found[side] == pytest.approx(true, abs=2.5)
    assert found[Side.LEFT] < -5.0
    assert found[Side.RIGHT] > found[Side.LEFT] + 10.0


@pytest.mark.parametrize("aside_deg", [-7.0, 7.0])
def test_it_is_the_same_for_a_camera_that_looks_from_aside(aside_deg: float) -> None:
    """Uncorrected, one hand would seem 3 cm further in and the other 3 cm further out.

    A tenth of the way is missing, as in the test below.
    """
    straight, seen = crossing_cm(0.0), crossing_cm(aside_deg)
    for side in Side:
        assert seen[side] == pytest.approx(straight[side], abs=1.2)


@pytest.mark.parametrize("aside_deg", [-7.0, 0.0, 7.0])
def test_the_standing_feet_tell_how_far_aside_the_camera_looks(aside_deg: float) -> None:
    scene = after(aside_deg).scene()
    assert scene is not None
    found = aside(scene.mean, scene.phases, scene.scale.leg_to_floor_px)
    # Facing to their left of the camera in front, what lies ahead is to the picture's right. Of
    # this runner, the first gait's, stance is told 25 ms short from in front, and so is its way.
    assert np.degrees(np.arctan(found)) == pytest.approx(aside_deg, abs=2.0)


def test_arms_are_told_from_in_front_only_and_their_direction_not_at_all() -> None:
    for view in View:
        names = {one.name for one in after(0.0, view).summary()}
        assert ("arm_crossing" in names) == (view is View.FRONT)
        assert "arm_direction" not in names
