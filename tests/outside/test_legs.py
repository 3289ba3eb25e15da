"""Real runners whose legs change their names: the steps, and the sides, must not mind."""

from __future__ import annotations

import itertools
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from live.pipeline import Pipeline, Setup
from shared.catalogue import CATALOGUE
from shared.flow import EventKind, GaitEvent, Pose, Side, Update, View
from shared.units import NS_PER_MS, NS_PER_S
from tests.accuracy.tracks import poses_of, truth_of
from tests.outside import captured as clips
from tests.outside.people import (
    CAPTURED,
    IN_VIDEOS,
    JOG,
    VIDEOS,
    Run,
    captured,
    exchanged,
    seen,
    spoilt,
)
from tests.rendered.track_file import TRACKS

KNOWN_WITHIN_S = 3.0
CADENCE_WITHIN = 0.3
CONTACTS_WITHIN_MS = 5.0
SETTLED_NS = 3 * NS_PER_S
DRAWN = ("chance_side_14", "side_20", "chance_across_00", "front_05")


@cache
def drawn(name: str) -> Run:
    """Landmarks of the real model on a body that was drawn, from steady running on."""
    path = TRACKS / f"{name}.track.xz"
    truth = truth_of(path)
    from_ns = NS_PER_S + int((truth.meta["running_from_s"] + 0.5) * NS_PER_S)
    poses = [pose for pose in poses_of(path) if pose.captured_ns >= from_ns][:330]
    contacts = [
        (NS_PER_S + round(event["time_s"] * NS_PER_S), Side(event["side"]))
        for event in truth.events
        if event["kind"] == "contact"
    ]
    view = View(truth.meta["view"])
    return Run(name, view, poses, float(truth.meta["cadence_spm"]), contacts)


RUNS = {
    **({name: (seen, (name,)) for name in VIDEOS if name != JOG} if IN_VIDEOS else {}),
    **({JOG: (seen, (JOG, 3))} if IN_VIDEOS else {}),
    **{
        f"{name} {view}": (captured, (name, view))
        for name in CAPTURED
        for view in (View.SIDE, View.BEHIND)
    },
    "rbds001_T35 front": (captured, ("rbds001_T35", View.FRONT)),
    "rbds001_T25 side, 15 a second": (captured, ("rbds001_T25", View.SIDE, 15.0)),
    "ric_20140515 side, 15 a second": (captured, ("ric_20140515", View.SIDE, 15.0)),
    **{name: (drawn, (name,)) for name in DRAWN},
}


in_videos = pytest.mark.skipif(
    not IN_VIDEOS, reason="PEOPLE_IN_VIDEOS names no folder with landmarks of videos"
)


def run_of(name: str) -> Run:
    make, arguments = RUNS[name]
    return make(*arguments)


@cache
def untouched(name: str) -> list[Update]:
    run = run_of(name)
    return play(run.poses, run.view)


def play(poses: list[Pose], view: View) -> list[Update]:
    pipeline = Pipeline(Setup(view))
    return [pipeline.update(pose) for pose in poses]


def contacts(updates: list[Update]) -> list[GaitEvent]:
    return [e for u in updates for e in u.events if e.kind is EventKind.CONTACT]


def cadence(updates: list[Update], after_ns: int) -> float:
    told = [m for u in updates for m in u.measures if m.name == "cadence"]
    return float(np.mean([m.value for m in told if m.at_ns > after_ns] or [m.value for m in told]))


def nearest(event: GaitEvent, others: list[tuple[int, Side | None]]) -> tuple[int, Side | None]:
    return min(others, key=lambda other: abs(other[0] - event.at_ns))


@in_videos
@pytest.mark.parametrize("name", [*VIDEOS])
def test_the_steps_that_were_counted_in_the_pictures_are_found(name: str) -> None:
    """In black tights as well, behind a handrail, where the names change at nearly every step.

    Counted to within a frame over so many steps: 2 % of a short clip.
    """
    run = run_of(name)
    told = contacts(untouched(name))
    assert told[0].captured_ns - run.poses[0].captured_ns <= KNOWN_WITHIN_S * NS_PER_S
    assert cadence(untouched(name), 0) == pytest.approx(run.cadence_spm, abs=1.0)
    gaps = np.diff([event.at_ns for event in told]) / NS_PER_S
    assert gaps.max() < 1.5 * 60.0 / run.cadence_spm
    assert gaps.min() > 0.5 * 60.0 / run.cadence_spm


@in_videos
def test_legs_that_cannot_be_made_out_have_no_sides() -> None:
    updates = untouched(JOG)
    assert contacts(updates)
    assert not any(update.sides_sure for update in updates)
    assert {e.side for u in updates for e in u.events} == {None}
    assert {m.side for u in updates for m in u.measures} == {None}
    # Nor can the instant of contact: what rests on it is withheld, and it is not called sure.
    told = {m.name for u in updates for m in u.measures}
    assert "cadence" in told
    assert not any(CATALOGUE[name].needs_contact for name in told)
    assert min(e.uncertainty_ms for u in updates for e in u.events) > 150


@pytest.mark.parametrize("name", RUNS)
def test_exchanged_legs_change_neither_steps_nor_sides(name: str) -> None:
    run, plain = run_of(name), untouched(name)
    true: list[tuple[int, Side | None]] = [(e.at_ns, e.side) for e in contacts(plain)]
    sided: list[tuple[int, Side | None]] = list(run.contacts)
    for pattern, poses in spoilt(run):
        updates = play(poses, run.view)
        told = contacts(updates)
        start_ns = poses[0].captured_ns
        assert told[0].captured_ns - start_ns <= KNOWN_WITHIN_S * NS_PER_S, pattern
        after_ns = max(told[0].at_ns, true[0][0]) + SETTLED_NS
        late = [event for event in told if event.at_ns > after_ns - SETTLED_NS // 2]
        assert len(late) >= 5, pattern
        off = [(event.at_ns - nearest(event, true)[0]) / NS_PER_MS for event in late]
        assert np.percentile(np.abs(off), 95) <= CONTACTS_WITHIN_MS, pattern
        found = cadence(updates, after_ns) - cadence(plain, after_ns)
        assert abs(found) <= CADENCE_WITHIN, pattern
        for event in told:
            at_ns, side = nearest(event, sided or true)
            if event.side is not None and abs(at_ns - event.at_ns) < NS_PER_S // 8:
                assert side in (None, event.side), pattern


@pytest.mark.parametrize("name", [name for name in RUNS if name != JOG])
def test_the_sides_of_untouched_legs_are_told_and_rightly(name: str) -> None:
    run, told = run_of(name), contacts(untouched(name))
    sides = [event.side for event in told]
    assert sides.count(None) <= 0.1 * len(sides)
    assert all(a is not b for a, b in itertools.pairwise(side for side in sides if side))
    for event in told:
        if run.contacts and event.side is not None:
            assert nearest(event, list(run.contacts))[1] is event.side


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 2**32 - 1), share=st.floats(0.0, 1.0), turns=st.floats(0.02, 1.0))
def test_no_history_of_exchanges_tells_a_wrong_side(seed: int, share: float, turns: float) -> None:
    """Runs of any length: after each of them the names are drawn anew."""
    rng = np.random.default_rng(seed)
    for run in (captured("rbds001_T35", View.SIDE), drawn("chance_side_14")):
        wrong, poses = False, []
        for pose in run.poses:
            if rng.random() < turns:
                wrong = bool(rng.random() < share)
            poses.append(exchanged(pose) if wrong else pose)
        told = contacts(play(poses, run.view))
        assert told[0].captured_ns - poses[0].captured_ns <= KNOWN_WITHIN_S * NS_PER_S
        for event in told:
            assert event.side in (None, nearest(event, list(run.contacts))[1])


# Walking ------------------------------------------------------------------------------------


def walk(faster: float) -> list[Pose]:
    """The captured walk from the side, played faster: a walker's movement at a runner's rate."""
    made = clips.poses(clips.load("walk"), View.SIDE, 14.0 * faster, 30.0 / faster)
    start_ns = made[0].captured_ns
    return [
        replace(pose, captured_ns=start_ns + round((pose.captured_ns - start_ns) / faster))
        for pose in made
    ]


@pytest.mark.skipif(clips.data_folder() is None, reason="pybullet has no wheel for this system")
@pytest.mark.parametrize("faster", [1.0, 1.5])
@pytest.mark.parametrize("names", ["as given", "at random, frame by frame"])
def test_a_walk_is_known_and_named_as_one(faster: float, names: str) -> None:
    """94.7 steps/min, and 142, which is a runner's rate."""
    run = Run("walk", View.SIDE, walk(faster), 94.74 * faster, [])
    poses = run.poses if names == "as given" else dict(spoilt(run))[names]
    updates = play(poses, View.SIDE)
    assert len(contacts(updates)) > 10
    assert cadence(updates, 0) == pytest.approx(run.cadence_spm, abs=1.0)
    late = [u for u in updates if u.captured_ns > poses[0].captured_ns + 5 * NS_PER_S]
    assert all("not_running" in update.doubts for update in late)


@pytest.mark.parametrize("name", [name for name in RUNS if name != JOG])
def test_a_run_is_not_named_as_a_walk(name: str) -> None:
    assert not any("not_running" in update.doubts for update in untouched(name))
