"""From behind and in front a picture that is stretched by much is a doubt; nobody as drawn is one.

``stretched/`` holds what the pose model found in drawn clips that were made a third wider, or three
quarters as wide, before it saw them: it does not find a body that is wider by as much.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from live.scene.breadth import NARROWEST, SLANT_MOST, Breadth
from live.scene.quality import DoubtWatch
from live.setup_checks import CameraFacts, SetupChecks
from shared.flow import Pose, View
from shared.landmarks import Landmark as Lm
from shared.pictures import CheckState
from tests.accuracy.tracks import all_tracks, poses_of, truth_of
from tests.live.scene.test_proportions import run
from tests.live.scene.test_unmeasured import drawn
from tests.outside.people import CAPTURED, captured
from tests.rendered.track_file import load_track

STRETCHED = sorted((Path(__file__).parent / "stretched").glob("*.track.xz"))
FRAMES_PER_S = 30


def seen_in(track: Path) -> list[Pose]:
    xy_px, visibility, (width, height) = load_track(track)
    return [
        Pose(
            captured_ns=10**9 + index * 10**9 // FRAMES_PER_S,
            index=index,
            width_px=width,
            height_px=height,
            xy_px=xy,
            visibility=seen,
            people=1,
        )
        for index, (xy, seen) in enumerate(zip(xy_px, visibility, strict=True))
    ]


def view_of(track: Path) -> View:
    return View(track.name.split("_")[0])


def doubted(poses: list[Pose], view: View) -> list[bool]:
    watch = DoubtWatch(view)
    return ["picture_stretched" in watch.add(pose, view, 1.0, 170.0) for pose in poses]


def test_there_are_some() -> None:
    assert len(STRETCHED) == 6
    assert {view_of(track) for track in STRETCHED} == {View.BEHIND, View.FRONT}


@pytest.mark.parametrize("track", STRETCHED, ids=lambda track: track.name)
def test_a_picture_stretched_by_a_third_is_a_doubt_within_two_seconds(track: Path) -> None:
    assert all(doubted(seen_in(track), view_of(track))[60:])


@pytest.mark.parametrize("track", STRETCHED[1::4], ids=lambda track: track.name)
def test_the_camera_check_says_so(track: Path) -> None:
    checks = SetupChecks(view_of(track))
    for pose in seen_in(track):
        checks.add_pose(pose)
    facts = CameraFacts(frames_per_s=30.0, moved=False, edges_set=True)
    (steps,) = (check for check in checks.checks(facts) if check.key == "steps")
    assert (steps.standing, steps.advice) == (CheckState.TO_DO, "steps_picture_stretched")


def test_no_drawn_runner_is_one() -> None:
    tried = 0
    for track in all_tracks():
        view = View(truth_of(track).meta["view"])
        if view is not View.SIDE:
            tried += 1
            assert not any(doubted(poses_of(track), view)), track.name
    assert tried >= 90


@pytest.mark.parametrize("name", CAPTURED)
def test_no_captured_runner_is_one(name: str) -> None:
    """Their hips and legs; the shoulders are not their own."""
    assert not any(doubted(captured(name, View.BEHIND).poses, View.BEHIND))


def test_a_slant_makes_nobody_doubted() -> None:
    """Seen at a slant a body is as narrow as in a squeezed picture; its feet then swing across."""
    across = 0.0
    breadth = Breadth()
    for pose in seen_in(STRETCHED[0]):
        up = 3 * (pose.xy_px[Lm.LEFT_ANKLE, 1] - pose.xy_px[Lm.RIGHT_ANKLE, 1])
        xy = pose.xy_px.copy()
        xy[Lm.LEFT_ANKLE, 0] += up
        xy[Lm.RIGHT_ANKLE, 0] -= up
        breadth.add(replace(pose, xy_px=xy))
        assert not breadth.stretched
        across = breadth.slant
    assert across > SLANT_MOST
    share = breadth.over_height
    assert share is not None
    assert share < NARROWEST


def test_who_stands_is_not_judged() -> None:
    first = drawn(View.BEHIND)[0]
    breadth = Breadth()
    for number in range(200):
        xy = np.array([0.5, 1.0]) * first.xy_px
        breadth.add(replace(first, xy_px=xy, captured_ns=number * 33_000_000))
    assert breadth.over_height is None
    assert not breadth.stretched


@pytest.mark.parametrize("track", STRETCHED, ids=lambda track: track.name)
def test_no_value_comes_without_the_doubt(track: Path) -> None:
    _, updates = run(seen_in(track), view_of(track))
    valued = [update for update in updates if update.measures]
    assert valued
    assert all("picture_stretched" in update.doubts for update in valued)
