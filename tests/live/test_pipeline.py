"""The live core as a whole: poses of a virtual runner in, events and measures out."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import live.pipeline
from live.measures.events import EventPhases, event_phases
from live.pipeline import Pipeline, Setup
from live.stride.mean_stride import MeanStride
from shared.catalogue import CATALOGUE, why_not
from shared.flow import EventKind, GaitEvent, Measure, Pose, Side, Update, View
from shared.landmarks import Landmark
from shared.units import NS_PER_MS, NS_PER_S
from tests.live.virtual_runner import Spoil, Take, nobody, take, without
from tests.rendered.params import BySide, RunnerParams

SETTLED_NS = 6 * NS_PER_S


def run(poses: list[Pose], view: View, speed: float | None = 2.8) -> list[Update]:
    pipeline = Pipeline(Setup(view, height_m=1.66, belt_speed_mps=speed))
    return [pipeline.update(pose) for pose in poses]


def contacts(updates: list[Update]) -> list[GaitEvent]:
    return [e for u in updates for e in u.events if e.kind is EventKind.CONTACT]


def measures(updates: list[Update], name: str, side: Side | None = None) -> list[Measure]:
    return [m for u in updates for m in u.measures if m.name == name and m.side == side]


@cache
def side_take(swap: bool = True, cadence: float = 166.0) -> Take:
    return take(
        RunnerParams(start_s=0.0, cadence_spm=cadence),
        View.SIDE,
        16.0,
        spoil=Spoil(swap_near_contact=swap),
    )


@cache
def behind_take() -> Take:
    params = RunnerParams(start_s=0.0, pelvic_shift_m=BySide(0.010, 0.030))
    return take(params, View.BEHIND, 16.0)


def errors_ms(made: Take, found: list[GaitEvent]) -> list[float]:
    """Signed error of each found contact against the nearest true one of its side."""
    out = []
    for event in found:
        true = min(
            (at for at, side in made.contacts() if side is event.side),
            key=lambda at: abs(at - event.at_ns),
        )
        out.append((event.at_ns - true) / NS_PER_MS)
    return out


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_no_step_is_told_when_it_is_long_past(view: View) -> None:
    """Wherever in a stride it becomes known: a cue about an older step would sound in another."""
    poses = (side_take() if view is View.SIDE else behind_take()).poses
    for first in range(0, 22, 3):
        told = contacts(run(poses[first : first + 180], view))
        assert len(told) >= 5
        assert max(event.captured_ns - event.at_ns for event in told) <= 140 * NS_PER_MS


@pytest.mark.parametrize("swap", [False, True])
def test_every_contact_is_found_once_and_named_rightly(swap: bool) -> None:
    made = side_take(swap)
    found = [
        e for e in contacts(run(made.poses, View.SIDE)) if e.at_ns > made.start_ns + SETTLED_NS
    ]
    true = [
        (at, side)
        for at, side in made.contacts()
        if found[0].at_ns - 100 * NS_PER_MS < at < found[-1].at_ns + 100 * NS_PER_MS
    ]
    assert [event.side for event in found] == [side for _, side in true]
    assert max(abs(error) for error in errors_ms(made, found)) < 60


def test_what_is_drawn_carries_the_names_that_the_measures_have() -> None:
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66, belt_speed_mps=2.8))
    left, right = Landmark.LEFT_ANKLE, Landmark.RIGHT_ANKLE
    begin_ns = side_take(True).poses[0].captured_ns
    given_wrong = drawn_wrong = frames = 0
    for pose, clean in zip(side_take(True).poses, side_take(False).poses, strict=True):
        pipeline.update(pose)
        drawn = pipeline.named(pose)
        apart = np.abs(clean.xy_px[left] - clean.xy_px[right]).max()
        if pose.captured_ns - begin_ns < SETTLED_NS or apart < 60:
            continue
        frames += 1
        wrong = [
            np.abs(one.xy_px[left] - clean.xy_px[right]).sum()
            < np.abs(one.xy_px[left] - clean.xy_px[left]).sum()
            for one in (pose, drawn)
        ]
        given_wrong += wrong[0]
        drawn_wrong += wrong[1]
    assert given_wrong > 0.05 * frames, "the poses do come with the legs exchanged"
    assert drawn_wrong <= 0.01 * frames


def test_contact_times_fall_between_frames() -> None:
    made = side_take()
    stamps = {pose.captured_ns for pose in made.poses}
    found = contacts(run(made.poses, View.SIDE))
    assert found
    assert not any(event.at_ns in stamps for event in found)


@pytest.mark.parametrize("cadence", [152.0, 166.0, 190.0])
def test_cadence_follows_the_runner(cadence: float) -> None:
    made = side_take(True, cadence)
    values = measures(run(made.poses, View.SIDE), "cadence")
    assert values
    late = [m for m in values if m.at_ns > made.start_ns + SETTLED_NS]
    true = [at for at, _ in made.contacts() if at > late[0].at_ns - 8 * NS_PER_S // 3]
    expected = 60.0 * (len(true) - 1) / ((true[-1] - true[0]) / NS_PER_S)
    assert np.mean([m.value for m in late]) == pytest.approx(expected, abs=1.5)
    assert all(m.steps == 8 for m in late)


def test_cadence_is_not_swayed_by_where_contact_is_found_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its place is learnt every half stride: here 35 ms to and fro now and then, as if misread."""
    times = itertools.count()

    def wandering(mean: MeanStride, view: View, forward: float, px_per_m: float) -> EventPhases:
        found = event_phases(mean, view, forward, px_per_m)
        off = 2.0 * np.pi * mean.rate_hz * (0.0, 0.035)[next(times) // 6 % 2]
        for side in Side:
            found.contact[side] += off
        return found

    monkeypatch.setattr(live.pipeline, "event_phases", wandering)
    made = side_take(True, 166.0)
    updates = run(made.poses, View.SIDE)
    told = [m for m in measures(updates, "cadence") if m.at_ns > made.start_ns + SETTLED_NS]
    assert len(told) > 15
    true_ns, told_ns = [at for at, _ in made.contacts()], [e.at_ns for e in contacts(updates)]
    by_stride, by_contacts = [], []
    for one in told:
        last = min(range(len(true_ns)), key=lambda step: abs(true_ns[step] - one.at_ns))
        true = 60.0 * 8 * NS_PER_S / (true_ns[last] - true_ns[last - 8])
        by_stride.append(abs(one.value - true))
        before_ns = told_ns[told_ns.index(one.at_ns) - 8]
        by_contacts.append(abs(60.0 * 8 * NS_PER_S / (one.at_ns - before_ns) - true))
    assert max(by_stride) < 1.0
    assert max(by_contacts) > 1.5


def test_step_length_is_belt_speed_times_step_time() -> None:
    """Identity speed = step length x cadence / 60; 2.78 m/s at 160 gives 1.0425 m."""
    made = side_take(True, 160.0)
    updates = run(made.poses, View.SIDE, speed=2.78)
    lengths = [m.value for side in Side for m in measures(updates, "step_length", side)]
    assert np.mean(lengths) == pytest.approx(104.25, rel=0.02)


def test_more_overstride_is_read_as_more() -> None:
    values = {}
    for ahead in (0.20, 0.26):
        params = RunnerParams(start_s=0.0, strike_ahead_m=BySide(ahead, ahead))
        updates = run(take(params, View.SIDE, 14.0).poses, View.SIDE)
        for side in Side:
            late = measures(updates, "strike_ahead", side)[6:]
            values[(ahead, side)] = np.mean([m.value for m in late])
    for side in Side:
        change_cm = values[(0.26, side)] - values[(0.20, side)]
        assert change_cm == pytest.approx(6.0, abs=2.0)


def test_pelvic_shift_tells_the_sides_apart() -> None:
    updates = run(behind_take().poses, View.BEHIND)
    left = np.mean([m.value for m in measures(updates, "pelvic_shift", Side.LEFT)])
    right = np.mean([m.value for m in measures(updates, "pelvic_shift", Side.RIGHT)])
    assert right > left + 1.0


def test_only_measures_of_the_view_are_given() -> None:
    for made, view in ((side_take(), View.SIDE), (behind_take(), View.BEHIND)):
        given_names = {m.name for u in run(made.poses, view) for m in u.measures}
        assert given_names
        assert all(not why_not(name, view) for name in given_names)


def test_units_come_from_the_catalogue_and_fall_back_without_height() -> None:
    pipeline = Pipeline(Setup(View.SIDE))
    updates = [pipeline.update(pose) for pose in side_take().poses]
    found = [m for u in updates for m in u.measures]
    assert {m.unit for m in found if m.name == "strike_ahead"} == {"% leg"}
    assert all(m.unit in CATALOGUE[m.name].units for m in found)


def test_lost_and_jittered_frames_lose_no_step() -> None:
    rng = np.random.default_rng(3)
    times = np.arange(0.0, 16.0, 1 / 30) + rng.normal(0.0, 0.004, 480)
    times = np.sort(times[rng.random(480) > 0.15])
    made = take(
        RunnerParams(start_s=0.0),
        View.SIDE,
        16.0,
        times_s=times,
        spoil=Spoil(swap_near_contact=True),
    )
    found = [
        e for e in contacts(run(made.poses, View.SIDE)) if e.at_ns > made.start_ns + SETTLED_NS
    ]
    gaps_s = np.diff([e.at_ns for e in found]) / NS_PER_S
    assert Counter(e.side for e in found).most_common()[0][1] >= 10
    assert all(a.side is not b.side for a, b in itertools.pairwise(found))
    assert gaps_s.max() < 0.5


def test_a_pose_that_is_not_newer_changes_nothing() -> None:
    poses = side_take().poses
    plain = run(poses, View.SIDE)
    doubled = run([pose for pose in poses for _ in (0, 1)], View.SIDE)
    assert [e for u in plain for e in u.events] == [e for u in doubled for e in u.events]


def test_an_empty_picture_raises_the_doubt_and_gives_nothing() -> None:
    poses = side_take().poses
    gone = [nobody(pose) for pose in poses[300:360]]
    updates = run(poses[:300] + gone, View.SIDE)
    assert "no_runner" not in updates[299].doubts
    late = updates[310:]
    assert all("no_runner" in update.doubts for update in late)
    assert not any(update.events or update.measures for update in updates[300:])


def test_the_wrong_view_is_noticed() -> None:
    updates = run(behind_take().poses[:90], View.SIDE)
    assert "wrong_view" in updates[-1].doubts
    updates = run(side_take().poses[:90], View.BEHIND)
    assert "wrong_view" in updates[-1].doubts


def test_feet_outside_the_picture_are_noticed() -> None:
    low = [replace(pose, height_px=380) for pose in side_take().poses[:60]]
    assert "body_cut_off" in run(low, View.SIDE)[-1].doubts


def test_everything_carries_the_stamp_of_its_frame() -> None:
    for update in run(side_take().poses, View.SIDE):
        stamps = [(e.captured_ns, e.at_ns) for e in update.events]
        stamps += [(m.captured_ns, m.at_ns) for m in update.measures]
        for captured_ns, at_ns in stamps:
            assert captured_ns == update.captured_ns
            assert at_ns <= update.captured_ns


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(data=st.data())
def test_no_history_of_spoilt_poses_breaks_it(data: st.DataObject) -> None:
    """Lost frames, repeated stamps, missing landmarks, NaN, empty pictures, far-off points."""
    base = side_take().poses
    rng = np.random.default_rng(data.draw(st.integers(0, 2**32 - 1)))
    share = data.draw(st.sampled_from([0.02, 0.2, 0.6]))
    poses: list[Pose] = []
    for pose in base[:240]:
        if rng.random() > share:
            poses.append(pose)
            continue
        kind = rng.integers(0, 6)
        if kind == 0:
            continue
        if kind == 1:
            poses.append(nobody(pose))
        elif kind == 2:
            poses.append(without(pose, rng.choice(33, rng.integers(1, 33)).tolist()))
        elif kind == 3:
            poses.append(replace(pose, captured_ns=int(pose.captured_ns - rng.integers(0, 10**9))))
        elif kind == 4:
            poses.append(replace(pose, xy_px=pose.xy_px + rng.normal(0, 500, (33, 2))))
        else:
            poses.append(replace(pose, visibility=np.full(33, np.nan)))
    last_ns: dict[tuple[str, Side | None], int] = {}
    for update in run(poses, View.SIDE):
        assert 0.0 <= update.quality <= 1.0
        for event in update.events:
            key = (event.kind, event.side)
            assert event.at_ns > last_ns.get(key, 0)
            last_ns[key] = event.at_ns
        for measure in update.measures:
            assert math.isfinite(measure.value)
            assert math.isfinite(measure.uncertainty)
            assert measure.steps >= 1


@pytest.mark.parametrize("frames_per_s", [7.0, 12.0])
def test_a_slow_camera_only_takes_longer_until_the_stride_is_known(frames_per_s: float) -> None:
    params = RunnerParams(start_s=0.0)
    made = take(params, View.SIDE, 12.0, frames_per_s=frames_per_s, spoil=Spoil(noise_px=1.0))
    values = measures(run(made.poses, View.SIDE), "cadence")
    assert np.mean([m.value for m in values]) == pytest.approx(166.0, abs=1.5)
