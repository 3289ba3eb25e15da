"""The belt's pace: steady over strides, quick after a change; and what the shoes add to it."""

from __future__ import annotations

import random
from functools import cache
from statistics import median, pstdev

import numpy as np
import pytest

from live.measures.belt_speed import BELIEVED, SHOE_TO, SteadyPace, along_belt
from live.measures.calibration import BELT_SPEED_SD, SHOE_SPEED_SD
from live.pipeline import Pipeline, Setup
from shared.flow import Side, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.live.virtual_runner import DISTANCE_M, FOCAL_PX, Take, take
from tests.rendered.params import RunnerParams


def fed(*paces: float) -> list[float]:
    pace = SteadyPace()
    return [pace.add(one) for one in paces]


def test_it_is_steadier_than_its_strides() -> None:
    chance = random.Random(4)
    strides = [1.6 * chance.gauss(1.0, 0.02) for _ in range(400)]
    found = fed(*strides)
    assert pstdev(found[12:]) < 0.5 * pstdev(strides)
    assert median(found) == pytest.approx(1.6, rel=0.005)


@pytest.mark.parametrize("poor", [0.5, 1.25, 2.0])
@pytest.mark.parametrize("strides", [1, 2, 3])
def test_up_to_three_poor_strides_move_it_by_no_more_than_the_others_scatter(
    poor: float, strides: int
) -> None:
    even = [1.58, 1.6, 1.62, 1.59, 1.61, 1.6, 1.6, 1.6]
    found = fed(*even, *[1.6 * poor] * strides, *even)
    assert all(1.58 <= one <= 1.62 for one in found)


@pytest.mark.parametrize("share", [0.7, 0.9, 1.1, 1.5])
def test_a_belt_set_anew_is_followed_within_four_strides(share: float) -> None:
    found = fed(*[1.6] * 20, *[1.6 * share] * 4)
    assert found[-2] == pytest.approx(1.6)
    assert found[-1] == pytest.approx(1.6 * share)


def test_a_slow_climb_is_followed_too() -> None:
    """1 % a stride for a minute: never behind by more than what counts as a change."""
    strides = [1.6 * 1.01**n for n in range(80)]
    behind = [one / found for one, found in zip(strides, fed(*strides), strict=True)]
    assert max(behind) < 1.12


def test_the_first_stride_is_taken_as_it_is() -> None:
    assert fed(1.4) == [1.4]


@pytest.mark.parametrize("yaw_deg", [-15.0, -8.0, 0.0, 6.0, 15.0])
@pytest.mark.parametrize("ahead", [-0.05, 0.0, 0.08])
def test_a_speed_along_the_belt_is_what_a_pinhole_camera_makes_of_it(
    yaw_deg: float, ahead: float
) -> None:
    """A point on the belt, by plain projection; lengths in statures, the camera 3.4 m away."""
    distance, speed, yaw = 3.4 / 1.7, 1.6, np.radians(yaw_deg)

    def across_view(place: float) -> float:
        # Right in the picture and into the scene, for a camera that is turned toward the front.
        return float(distance * place * np.cos(yaw) / (distance - place * np.sin(yaw)))

    later_s = 0.01
    seen = (across_view(ahead + speed * later_s) - across_view(ahead - speed * later_s)) / 2.0
    found = along_belt(seen / later_s, across_view(ahead), yaw_deg)
    assert found == pytest.approx(speed, rel=0.004)
    if ahead > 0.0 and yaw_deg == 15.0:
        assert abs(seen / later_s / np.cos(yaw) / speed - 1.0) > 0.02, "the correction is needed"


@cache
def side_take() -> Take:
    return take(RunnerParams(start_s=0.0, belt_speed_mps=2.8), View.SIDE, 14.0)


@cache
def last_reading(share: float | None) -> tuple[float, float]:
    """Speed (m/s) and its SD as a share, with shoes that go ``share`` of the belt's true way."""
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66))
    for pose in side_take().poses:
        pipeline.update(pose)
        spot = pipeline.standing_shoe()
        if spot is not None and share is not None:
            gone_m = 2.8 * (spot.now_ns - spot.before_ns) / NS_PER_S
            pipeline.shoe_went(spot, np.sign(spot.way_px) * share * gone_m * FOCAL_PX / DISTANCE_M)
    scene = pipeline.scene()
    assert scene is not None
    assert scene.scale.belt_speed_mps is not None
    return scene.scale.belt_speed_mps, scene.scale.belt_speed_sd


def test_what_the_shoes_say_is_believed_before_what_the_landmarks_say() -> None:
    by_landmarks, sd = last_reading(None)
    assert sd == BELT_SPEED_SD
    plain, sd = last_reading(1.0)
    assert sd == SHOE_SPEED_SD
    assert last_reading(1.03)[0] == pytest.approx(1.03 * plain, rel=0.005)
    assert abs(by_landmarks / plain - 1.0) < BELIEVED


def test_what_goes_at_quite_another_speed_is_no_shoe() -> None:
    assert last_reading(1.25) == last_reading(None)


def test_a_shoe_that_is_not_seen_any_more_is_soon_not_believed_any_more() -> None:
    """The shoes go 3 % quicker than the belt until they are lost: six strides later it is over."""
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66))
    sds = []
    for number, pose in enumerate(side_take().poses):
        pipeline.update(pose)
        spot = pipeline.standing_shoe()
        if spot is not None and number < 7 * 30:
            gone_m = 1.03 * 2.8 * (spot.now_ns - spot.before_ns) / NS_PER_S
            pipeline.shoe_went(spot, np.sign(spot.way_px) * gone_m * FOCAL_PX / DISTANCE_M)
        scene = pipeline.scene()
        sds.append(0.0 if scene is None else scene.scale.belt_speed_sd)
    assert sds[7 * 30] == SHOE_SPEED_SD
    assert sds[9 * 30] == SHOE_SPEED_SD, "a few strides without them are no loss"
    assert sds[13 * 30] == BELT_SPEED_SD


def test_a_spot_is_where_a_shoe_stands_flat_in_both_pictures() -> None:
    made = side_take()
    contacts, line = made.contacts(), made.gait.timeline
    stance_ns = float(np.mean(line.toe_off_s - line.contact_s)) * NS_PER_S
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66))
    seen: list[Side] = []
    for number, pose in enumerate(made.poses):
        pipeline.update(pose)
        spot = pipeline.standing_shoe()
        if spot is None:
            continue
        assert spot.before_ns == made.poses[number - 1].captured_ns
        assert spot.now_ns == pose.captured_ns
        began = max(at for at, side in contacts if side is spot.side and at < spot.before_ns + 5e7)
        assert spot.before_ns > began - 0.01 * NS_PER_S
        assert spot.now_ns < began + (SHOE_TO + 0.1) * stance_ns
        ankle = Lm.LEFT_ANKLE + (spot.side is Side.RIGHT)
        heel, toe = made.poses[number - 1].xy_px[[ankle + 2, ankle + 4]]
        assert spot.x_px == pytest.approx((heel[0] + toe[0]) / 2.0, abs=8.0)
        assert spot.y_px == pytest.approx((heel[1] + toe[1]) / 2.0, abs=8.0)
        assert np.sign(spot.way_px) == np.sign(heel[0] - toe[0]), "it goes back"
        seen.append(spot.side)
    assert seen.count(Side.LEFT) > 20
    assert seen.count(Side.RIGHT) > 20


def test_from_behind_no_shoe_is_looked_at() -> None:
    pipeline = Pipeline(Setup(View.BEHIND, height_m=1.66))
    for pose in take(RunnerParams(start_s=0.0), View.BEHIND, 8.0).poses:
        pipeline.update(pose)
        assert pipeline.standing_shoe() is None
