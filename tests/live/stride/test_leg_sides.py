"""Which leg is the left one: each witness by itself, and what is withheld where they disagree."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from live.measures.calibration import EITHER, correction
from live.measures.events import FootEvent
from live.pipeline import Pipeline, Setup
from live.scene.leg_place import FAR, NEAR
from live.stride import leg_sides
from live.stride.leg_labels import (
    find_stride_rate,
    name_hips_together,
    name_legs_together,
    tell_apart,
)
from live.stride.mean_stride import MeanStride
from live.stride.model import StrideModel
from live.stride.sample import Sample, make_sample
from shared.flow import EventKind, FloatArray, Pose, Side, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.live.virtual_runner import LEGS, Spoil, take
from tests.outside.people import exchanged
from tests.rendered.params import RunnerParams

CADENCE = 166.0


@cache
def poses(view: View) -> list[Pose]:
    params = RunnerParams(start_s=0.0, cadence_spm=CADENCE)
    return take(params, view, 8.0, spoil=Spoil(noise_px=1.0)).poses


@cache
def model(view: View) -> StrideModel:
    found = StrideModel()
    for sample in samples(poses(view)):
        found.add(sample)
    assert found.mean is not None
    return found


def samples(of: list[Pose]) -> list[Sample]:
    made = [make_sample(pose, pose.captured_ns / NS_PER_S) for pose in of]
    return [sample for sample in made if sample is not None]


def mean(view: View) -> MeanStride:
    found = model(view).mean
    assert found is not None
    return found


def turned_round(stride: MeanStride) -> MeanStride:
    """The same with the legs' names exchanged."""
    coefficients, seen = stride.coefficients.copy(), stride.seen.copy()
    for left in LEGS:
        coefficients[:, [left, left + 1]] = coefficients[:, [left + 1, left]]
        seen[[left, left + 1]] = seen[[left + 1, left]]
    return MeanStride(
        coefficients=coefficients,
        root=stride.root,
        spread=stride.spread,
        bounce=stride.bounce,
        rate_hz=stride.rate_hz,
        strides=stride.strides,
        hips_path=stride.hips_path,
        hips_seen=stride.hips_seen,
        seen=seen,
    )


def points(view: View, stride: MeanStride, swapped_share: float) -> float:
    """The camera stands at the runner's right, who faces right in the picture from there."""
    return leg_sides.points_for_names(stride, swapped_share, view, 1.0, model(view).leg_px)


@pytest.mark.parametrize("view", View)
def test_body_and_view_speak_for_the_right_names_without_the_models_ones(view: View) -> None:
    """The model's names half one way, half the other: they say nothing."""
    right = points(view, mean(view), 0.5)
    wrong = points(view, turned_round(mean(view)), 0.5)
    assert right > 2.0
    assert wrong < -2.0


@pytest.mark.parametrize("view", View)
def test_the_models_names_add_to_that_or_take_from_it(view: View) -> None:
    names = [points(view, mean(view), share) for share in (0.0, 0.5, 1.0)]
    assert names[0] - names[1] == pytest.approx(leg_sides.NAMES)
    assert names[1] - names[2] == pytest.approx(leg_sides.NAMES)


def test_names_alone_are_not_enough() -> None:
    assert leg_sides.NAMES < leg_sides.SURE


def test_a_far_leg_that_is_the_more_visible_one_is_a_witness_against_its_name() -> None:
    near, far = mean(View.SIDE), mean(View.SIDE).seen.copy()
    far[Lm.LEFT_KNEE] += 0.1
    hidden = turned_round(turned_round(near))
    hidden.seen[:] = far
    assert points(View.SIDE, hidden, 0.5) == pytest.approx(points(View.SIDE, near, 0.5) - 1.0)


def test_legs_that_cannot_be_made_out_are_never_sure_from_the_side() -> None:
    assert leg_sides.sure(10.0, 0.05, View.SIDE, before=False)
    assert not leg_sides.sure(10.0, 0.13, View.SIDE, before=True)
    assert leg_sides.sure(10.0, 0.13, View.BEHIND, before=False)


def test_what_was_sure_stays_so_on_fewer_points() -> None:
    assert not leg_sides.sure(2.0, 0.05, View.SIDE, before=False)
    assert leg_sides.sure(2.0, 0.05, View.SIDE, before=True)
    assert not leg_sides.sure(1.0, 0.05, View.SIDE, before=True)


def test_an_event_without_a_sure_side_is_told_without() -> None:
    event = FootEvent(EventKind.CONTACT, Side.LEFT, 1, 2, 0.9, 9.0)
    assert event.told(side_sure=True).side is Side.LEFT
    assert event.told(side_sure=False).side is None
    assert event.told(side_sure=False).at_ns == 1


def test_for_either_leg_the_correction_lies_half_way_and_says_so() -> None:
    """What is not known of the way between the two is in the uncertainty."""
    near, far = (correction("knee_flexion_at_contact", place) for place in (NEAR, FAR))
    either = correction("knee_flexion_at_contact", EITHER)
    assert either.offset == pytest.approx((near.offset + far.offset) / 2.0)
    half = (near.offset - far.offset) / 2.0
    assert either.sd**2 == pytest.approx((near.sd**2 + far.sd**2) / 2.0 + half**2)


def test_values_of_both_legs_together_stay_where_sides_are_withheld() -> None:
    """Legs wrong in all frames, from the side: names and body contradict each other."""
    run = [exchanged(pose) for pose in poses(View.SIDE)]
    for pose in run:
        for arm in (Lm.LEFT_WRIST, Lm.LEFT_ELBOW):  # arms that hang still say nothing
            pose.xy_px[[arm, arm + 1]] = pose.xy_px[[Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER]]
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66, belt_speed_mps=2.8))
    updates = [pipeline.update(pose) for pose in run]
    told = [m for u in updates for m in u.measures]
    assert {m.side for m in told} == {None}
    assert {e.side for u in updates for e in u.events} == {None}
    assert {"cadence", "strike_ahead", "contact_time", "step_length"} <= {m.name for m in told}


# Telling the legs apart ---------------------------------------------------------------------


def arrays(view: View) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    window = samples(poses(view))[60:150]
    return (
        np.array([sample.t_s for sample in window]),
        np.stack([sample.rel for sample in window]),
        np.stack([sample.root for sample in window]),
        np.stack([sample.weight for sample in window]),
    )


@pytest.mark.parametrize("view", View)
def test_the_rate_does_not_mind_names(view: View) -> None:
    times, rel, root, weight = arrays(view)
    rate, share = find_stride_rate(times, rel, root, weight)
    assert 120.0 * rate == pytest.approx(CADENCE, rel=0.02)
    mixed = rel.copy()
    for left in LEGS:
        mixed[::2, [left, left + 1]] = mixed[::2, [left + 1, left]]
    assert find_stride_rate(times, mixed, root, weight) == pytest.approx((rate, share))


def test_products_alone_tell_the_legs_apart_from_the_side() -> None:
    times, rel, _, weight = arrays(View.SIDE)
    theta = np.pi * CADENCE / 60.0 * times
    assert tell_apart(theta, rel, weight).mean() in (0.0, 1.0)


@pytest.mark.parametrize("view", View)
def test_every_exchanged_frame_is_found(view: View) -> None:
    times, rel, _, weight = arrays(view)
    theta = np.pi * CADENCE / 60.0 * times
    wrong = np.random.default_rng(2).random(len(times)) < 0.45
    turned = rel.copy()
    for left in LEGS:
        turned[:, [left, left + 1]] = rel[:, [left + 1, left]]
    mixed = np.where(wrong[:, None, None], turned, rel)
    flips = name_legs_together(theta, mixed, weight, model(view).leg_px) > 0
    assert (flips == wrong).all() or (flips != wrong).all()


def test_hips_are_named_by_the_knees_under_them_where_they_are_seen_apart() -> None:
    _, rel, _, _ = arrays(View.BEHIND)
    hips = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
    mixed = rel.copy()
    mixed[::3, hips] = rel[::3, hips[::-1]]
    flips = name_hips_together(mixed, model(View.BEHIND).leg_px)
    assert flips.tolist() == [float(index % 3 == 0) for index in range(len(rel))]
    _, rel, _, _ = arrays(View.SIDE)
    assert not name_hips_together(rel, model(View.SIDE).leg_px).any()
