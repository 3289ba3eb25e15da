"""Somebody moves and no step comes of it: the reason is told, and the right one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from live.pipeline import Pipeline, Setup
from live.scene.movement import movement_of
from live.scene.unmeasured import UnmeasuredWatch
from live.scene.view import SIDE_WIDTH, UNSURE_WIDTH, ViewWatch
from live.setup_checks import CameraFacts, SetupChecks, all_pass
from shared.flow import Pose, Update, View
from shared.landmarks import Landmark as Lm
from shared.pictures import CheckState
from shared.problems import PROBLEMS, Problem
from shared.problems.unmeasured import UNMEASURED
from shared.units import NS_PER_S
from tests.accuracy.tracks import poses_of
from tests.live.virtual_runner import nobody
from tests.rendered.track_file import ENDING, TRACKS

LEGS = np.array([Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX])
FEET = [*range(Lm.LEFT_KNEE, Lm.RIGHT_FOOT_INDEX + 1)]
LATE_NS = 6 * NS_PER_S
Spoil = Callable[[list[Pose]], list[Pose]]


@cache
def drawn(view: View, from_s: float = 3.0, for_s: float = 9.0) -> tuple[Pose, ...]:
    """What the real pose model found in a drawn clip, from steady running on."""
    name = "chance_side_08" if view is View.SIDE else "chance_across_10"
    poses = poses_of(TRACKS / f"{name}{ENDING}")
    start_ns = poses[0].captured_ns + round(from_s * NS_PER_S)
    end_ns = start_ns + round(for_s * NS_PER_S)
    return tuple(pose for pose in poses if start_ns <= pose.captured_ns < end_ns)


def told(poses: list[Pose], view: View) -> list[tuple[float, tuple[Problem, ...]]]:
    """Seconds and reasons, frame by frame, were no step ever found."""
    watch, seen = UnmeasuredWatch(view), ViewWatch()
    found = []
    for pose in poses:
        if pose.people:
            seen.add(pose.xy_px)
        at_s = (pose.captured_ns - poses[0].captured_ns) / NS_PER_S
        found.append((at_s, watch.add(pose, 0, seen.surely_seen)))
    return found


def codes(problems: tuple[Problem, ...]) -> list[str]:
    return [problem.code for problem in problems]


def exchanged(poses: list[Pose]) -> list[Pose]:
    """Every other frame or so names the legs the wrong way round."""
    rng = np.random.default_rng(4)
    out = []
    for pose in poses:
        xy = pose.xy_px.copy()
        if rng.random() < 0.5:
            xy[LEGS], xy[LEGS + 1] = pose.xy_px[LEGS + 1], pose.xy_px[LEGS]
        out.append(replace(pose, xy_px=xy))
    return out


def every_third(poses: list[Pose]) -> list[Pose]:
    """A camera of 10 a second."""
    return [replace(pose, index=number) for number, pose in enumerate(poses[::3])]


def shrunk(poses: list[Pose]) -> list[Pose]:
    return [replace(pose, xy_px=200.0 + 0.35 * pose.xy_px) for pose in poses]


def feet_below(poses: list[Pose]) -> list[Pose]:
    soles = np.median([pose.xy_px[FEET, 1].max() for pose in poses])
    return [replace(pose, height_px=int(soles) - 10) for pose in poses]


def behind_a_board(poses: list[Pose]) -> list[Pose]:
    """The model believes to see knees and feet as little as it did in clips with a board drawn."""
    out = []
    for pose in poses:
        visibility = pose.visibility.copy()
        visibility[FEET] = 0.3
        out.append(replace(pose, visibility=visibility))
    return out


def shaken(poses: list[Pose]) -> list[Pose]:
    rng = np.random.default_rng(5)
    return [replace(pose, xy_px=pose.xy_px + rng.normal(0, 25, (33, 2))) for pose in poses]


def now_and_then(poses: list[Pose]) -> list[Pose]:
    return [pose if pose.index % 9 < 5 else nobody(pose) for pose in poses]


def two(poses: list[Pose]) -> list[Pose]:
    return [replace(pose, people=2) for pose in poses]


def faint(poses: list[Pose]) -> list[Pose]:
    return [replace(pose, visibility=0.3 * pose.visibility) for pose in poses]


CASES: dict[str, tuple[Spoil, str]] = {
    "exchanged": (exchanged, "legs_alike"),
    "slow camera": (every_third, "pictures_few"),
    "slow computer": (lambda poses: poses[::3], "computer_slow"),
    "feet": (feet_below, "feet_cut_off"),
    "board": (behind_a_board, "legs_hidden"),
    "small": (shrunk, "runner_small"),
    "shaken": (shaken, "steps_uneven"),
    "lost": (now_and_then, "runner_lost_often"),
    "two": (two, "second_person"),
    "faint": (faint, "picture_poor"),
    "nothing wrong": (list, "unmeasured"),
}


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
@pytest.mark.parametrize("case", CASES)
def test_the_likeliest_reason_comes_first(case: str, view: View) -> None:
    spoil, reason = CASES[case]
    found = told(spoil(list(drawn(view))), view)
    assert all(problems == () for at_s, problems in found if at_s < 4.9)
    late = [problems for at_s, problems in found if at_s > 6.0]
    assert len(late) > 10
    assert {codes(problems)[0] for problems in late} == {reason}


def test_how_many_pictures_come_is_said_with_how_many_are_needed() -> None:
    slow = told(every_third(list(drawn(View.SIDE))), View.SIDE)[-1][1][0]
    assert "10 frames per second" in slow.title
    assert "24 are needed" in slow.meaning
    dropped = told(list(drawn(View.SIDE))[::3], View.SIDE)[-1][1][0]
    assert "10 of 30 frames per second" in dropped.title


def test_the_view_that_is_seen_is_named() -> None:
    problem = told(list(drawn(View.BEHIND)), View.SIDE)[-1][1][0]
    assert problem.code == "wrong_view"
    assert "from the side" in problem.title
    assert "look from behind" in problem.action


def test_who_stands_or_stays_away_is_told_nothing() -> None:
    first = drawn(View.SIDE)[0]
    rng = np.random.default_rng(6)
    still = [
        replace(
            first,
            captured_ns=first.captured_ns + number * NS_PER_S // 30,
            index=number,
            xy_px=first.xy_px + rng.normal(0, 1.5, (33, 2)),
        )
        for number in range(300)
    ]
    for poses in (still, exchanged(still), [nobody(pose) for pose in still]):
        assert {problems for _, problems in told(poses, View.SIDE)} == {()}


def test_a_step_ends_it_and_five_seconds_without_one_bring_it_back() -> None:
    watch = UnmeasuredWatch(View.SIDE)
    poses = list(drawn(View.SIDE))
    for pose in poses:
        watch.add(pose, 0, View.SIDE)
    assert watch.told
    later = [replace(pose, captured_ns=pose.captured_ns + LATE_NS * 2) for pose in poses]
    assert watch.add(later[0], 1, View.SIDE) == ()
    silent_ns = [
        pose.captured_ns - later[0].captured_ns
        for pose in later[1:]
        if not watch.add(pose, 0, View.SIDE)
    ]
    assert 4.9 * NS_PER_S < max(silent_ns) < LATE_NS


def test_who_stops_to_read_it_can_read_it_and_who_leaves_ends_it() -> None:
    watch = UnmeasuredWatch(View.SIDE)
    poses = exchanged(list(drawn(View.SIDE)))
    for pose in poses:
        watch.add(pose, 0, View.SIDE)
    last = poses[-1]
    for number in range(1, 600):
        stands = replace(last, captured_ns=last.captured_ns + number * NS_PER_S // 30)
        assert codes(watch.add(stands, 0, View.SIDE))[0] == "legs_alike"
    for number in range(600, 720):
        gone = nobody(replace(last, captured_ns=last.captured_ns + number * NS_PER_S // 30))
        watch.add(gone, 0, None)
    assert watch.told == ()


# the whole pipeline


def run(poses: list[Pose], view: View) -> tuple[Pipeline, list[Update]]:
    pipeline = Pipeline(Setup(view, height_m=1.7))
    return pipeline, [pipeline.update(pose) for pose in poses]


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_while_steps_are_measured_nothing_is_said(view: View) -> None:
    pipeline, updates = run(list(drawn(view, 0.0, 13.0)), view)
    assert any(update.measures for update in updates)
    assert not any(update.unmeasured for update in updates)
    assert pipeline.why_unmeasured == ()


@pytest.mark.parametrize("typed", [View.SIDE, View.FRONT])
def test_another_view_gives_no_step_no_value_and_the_reason(typed: View) -> None:
    pipeline, updates = run(list(drawn(View.BEHIND)), typed)
    assert not any(update.measures or update.events for update in updates)
    assert pipeline.summary() == ()
    assert codes(updates[-1].unmeasured) == ["wrong_view"]
    assert codes(pipeline.why_unmeasured) == ["wrong_view"]
    assert pipeline.view_seen is View.BEHIND
    assert "scale_doubt" not in updates[-1].doubts


def test_where_the_view_cannot_be_told_values_stay() -> None:
    """Shoulders so wide as they are between two views: turned by some 32 degrees from the side."""
    between = []
    for pose in drawn(View.SIDE):
        xy = pose.xy_px.copy()
        trunk = np.linalg.norm(xy[[11, 12]].mean(axis=0) - xy[[23, 24]].mean(axis=0))
        middle = xy[[11, 12], 0].mean()
        xy[[11, 12], 0] = middle + np.array([-0.5, 0.5]) * (SIDE_WIDTH + 0.02) * trunk
        between.append(replace(pose, xy_px=xy))
    pipeline, updates = run(between, View.SIDE)
    assert "wrong_view" in updates[-1].doubts  # so nothing is cued
    assert any(update.measures for update in updates)
    assert pipeline.view_seen is None
    assert UNSURE_WIDTH > 0.02


def test_pictures_so_rare_that_no_step_can_be_found() -> None:
    """Five a second, two frames a step: the whole pipeline, as it is, comes to no value."""
    rare = [replace(pose, index=number) for number, pose in enumerate(drawn(View.BEHIND)[::6])]
    _, updates = run(rare, View.BEHIND)
    assert not any(update.measures for update in updates)
    assert codes(updates[-1].unmeasured) == ["pictures_few"]


def test_at_the_end_of_a_short_video_both_reasons_are_told() -> None:
    watch = UnmeasuredWatch(View.SIDE)
    for pose in exchanged(list(drawn(View.SIDE, 3.0, 3.5))):
        watch.add(pose, 0, View.SIDE)
    assert watch.told == ()
    assert codes(watch.over_all()) == ["run_short", "legs_alike"]
    assert codes(UnmeasuredWatch(View.SIDE).over_all()) == ["no_runner"]


def test_hidden_feet_are_a_doubt_from_the_side() -> None:
    _, updates = run(behind_a_board(list(drawn(View.SIDE))), View.SIDE)
    assert "legs_hidden" in updates[-1].doubts
    _, updates = run(list(drawn(View.SIDE)), View.SIDE)
    assert not any("legs_hidden" in update.doubts for update in updates)


def test_too_little_tells_nothing() -> None:
    poses = list(drawn(View.SIDE))
    assert movement_of(poses[:5]) is None
    assert movement_of([nobody(pose) for pose in poses]) is None
    unknown = [replace(pose, xy_px=np.full((33, 2), np.nan)) for pose in poses]
    assert movement_of(unknown) is None


def test_what_to_do_needs_nothing_filled_in() -> None:
    """A report says it from the code alone."""
    for code in UNMEASURED:
        assert "{" not in PROBLEMS[code].action


# the camera check


def steps_check(poses: list[Pose]) -> list[CheckState]:
    checks = SetupChecks(View.SIDE)
    for pose in poses:
        checks.add_pose(pose)
    found = checks.checks(CameraFacts(frames_per_s=30.0, moved=False, edges_set=True))
    assert all_pass(found) is all(one.standing is CheckState.PASS or one.advice for one in found)
    return [check.standing for check in found if check.key == "steps"]


def test_the_camera_check_says_so_too_and_asks_nobody_to_run() -> None:
    poses = list(drawn(View.SIDE))
    assert steps_check(poses) == [CheckState.PASS]
    assert steps_check(every_third(shaken(poses))) == [CheckState.TO_DO]
    assert steps_check(poses[:40]) == []
