"""A lying, upside-down or stretched runner is a doubt, and nothing is measured or cued of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from live.pipeline import Pipeline, Setup
from live.scene.proportions import Proportions, is_upright
from live.scene.quality import DoubtWatch
from live.scene.unmeasured import UnmeasuredWatch
from shared.flow import Pose, Update, View
from shared.landmarks import Landmark as Lm
from tests.accuracy.tracks import poses_of
from tests.live.scene.test_unmeasured import codes, drawn, told
from tests.outside.people import CAPTURED, captured
from tests.rendered.track_file import ENDING, TRACKS

LEGS = (
    (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE),
    (Lm.RIGHT_HIP, Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE),
)
OBLONG = 4 / 3
"""Pixels of half-wide pictures, and 16:9 shown as 4:3."""


def scaled(poses: tuple[Pose, ...] | list[Pose], across: float) -> list[Pose]:
    """As seen in pixels that are so much narrower than high."""
    return [replace(pose, xy_px=pose.xy_px * np.array([across, 1.0])) for pose in poses]


def turned(poses: tuple[Pose, ...] | list[Pose], quarters: int) -> list[Pose]:
    """As seen by a camera that was turned by so many quarters."""
    found = []
    for pose in poses:
        middle = np.array([pose.width_px, pose.height_px]) / 2
        xy = pose.xy_px - middle
        for _ in range(quarters):
            xy = np.stack([-xy[:, 1], xy[:, 0]], axis=1)
        size = max(pose.width_px, pose.height_px)
        found.append(replace(pose, xy_px=xy + size / 2, width_px=size, height_px=size))
    return found


def run(poses: list[Pose], view: View) -> tuple[Pipeline, list[Update]]:
    pipeline = Pipeline(Setup(view, height_m=1.7))
    return pipeline, [pipeline.update(pose) for pose in poses]


@pytest.mark.parametrize("across", [1 / OBLONG, OBLONG])
def test_a_stretched_runner_is_a_doubt_from_the_first_value_on(across: float) -> None:
    _, updates = run(scaled(drawn(View.SIDE, 0.0, 13.0), across), View.SIDE)
    valued = [update for update in updates if update.measures]
    assert valued
    assert all("picture_stretched" in update.doubts for update in valued)


def test_a_runner_as_it_is_is_none() -> None:
    for view in (View.SIDE, View.BEHIND):
        _, updates = run(list(drawn(view, 0.0, 13.0)), view)
        assert any(update.measures for update in updates)
        doubts = {doubt for update in updates for doubt in update.doubts}
        assert not doubts & {"picture_stretched", "picture_turned"}


def shape_of(poses: list[Pose]) -> float:
    proportions = Proportions()
    for pose in poses:
        proportions.add(pose)
    shape = proportions.pixel_shape
    assert shape is not None
    return shape


@pytest.mark.parametrize("name", CAPTURED)
@pytest.mark.parametrize("across", [1 / OBLONG, 1.0, OBLONG])
def test_the_pixels_shape_is_read_from_captured_runners(name: str, across: float) -> None:
    """Joints of real runners on a treadmill, which nobody drew (sources in their README)."""
    poses = scaled(captured(name, View.SIDE).poses, across)
    assert shape_of(poses) == pytest.approx(1 / across, rel=0.06)


@pytest.mark.parametrize("name", ["chance_side_00", "chance_side_106"])
def test_the_doubt_is_right_about_other_drawn_runners(name: str) -> None:
    poses = list(poses_of(TRACKS / f"{name}{ENDING}"))
    for across, asked in ((1.0, False), (1 / OBLONG, True), (OBLONG, True)):
        watch = DoubtWatch(View.SIDE)
        found = [
            "picture_stretched" in watch.add(pose, None, 1.0, 170.0)
            for pose in scaled(poses, across)
        ]
        assert all(found[150:]) if asked else not any(found)


def test_who_stands_says_nothing_of_the_pixels() -> None:
    first = drawn(View.SIDE)[0]
    stands = replace(first, xy_px=first.xy_px.copy())
    for hip, knee, ankle in LEGS:
        for part, share in ((knee, 0.5), (ankle, 1.0)):
            stands.xy_px[part] = stands.xy_px[hip] + np.array([3.0, 180.0]) * share
    rng = np.random.default_rng(0)
    proportions = Proportions()
    for number in range(200):
        xy = stands.xy_px + rng.normal(0.0, 2.0, (33, 2))
        proportions.add(replace(stands, xy_px=xy, captured_ns=number * 33_000_000))
    assert proportions.pixel_shape is None
    assert not proportions.stretched


@pytest.mark.parametrize("quarters", [1, 2, 3])
@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_a_lying_or_upside_down_runner_gives_no_value_and_the_reason(
    quarters: int, view: View
) -> None:
    pipeline, updates = run(turned(drawn(view), quarters), view)
    assert all("picture_turned" in update.doubts for update in updates[15:])
    assert not any(update.events or update.measures for update in updates)
    assert codes(pipeline.why_unmeasured)[0] == "picture_turned"
    assert codes(updates[-1].unmeasured)[0] == "picture_turned"


def test_legs_that_are_followed_badly_say_nothing_of_the_pixels() -> None:
    rng = np.random.default_rng(0)
    proportions = Proportions()
    for pose in drawn(View.SIDE):
        proportions.add(replace(pose, xy_px=pose.xy_px + rng.normal(0.0, 12.0, (33, 2))))
        assert not proportions.stretched


def test_up_is_told_with_a_runner_who_leans() -> None:
    pose = drawn(View.SIDE)[0]
    assert is_upright(pose)
    for degrees in (-180, -90, -60, -30, 0, 30, 60, 90):
        angle = np.radians(degrees)
        about = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        assert is_upright(replace(pose, xy_px=pose.xy_px @ about.T)) is (abs(degrees) <= 30)
    assert is_upright(replace(pose, xy_px=np.full((33, 2), np.nan)))


@pytest.mark.parametrize("step", [30, 20, 15])
def test_one_or_two_pictures_a_second_are_the_reason(step: int) -> None:
    """Too few even to tell whether anybody moves: the screen had only said to wait for steps."""
    rare = [
        replace(pose, index=number)
        for number, pose in enumerate(drawn(View.SIDE, 0.0, 13.0)[::step])
    ]
    found = [(at_s, codes(problems)) for at_s, problems in told(rare, View.SIDE)]
    first_s = next(at_s for at_s, what in found if what)
    assert first_s < 7.1
    assert found[-1][1][0] == "pictures_few"
    watch = UnmeasuredWatch(View.SIDE)
    for pose in rare:
        watch.add(pose, 0, None)
    (why, *_) = watch.over_all()
    assert why.code == "pictures_few"
    assert f"{30 / step:.1f}" in why.title or f"{round(30 / step)}" in why.title
