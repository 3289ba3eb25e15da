"""The hips' sideways path put together from ways between pictures."""

from __future__ import annotations

import numpy as np
import pytest

from live.stride.fourier import basis
from live.stride.pelvis_path import (
    ALIKE,
    ANYTHING,
    FEWEST,
    LEAST,
    MOST,
    WANDER,
    follows,
    learn_path,
)
from shared.flow import FloatArray

RATE_HZ = 1.4
HARMONICS = 6
THETA = np.linspace(0.0, 2.0 * np.pi, 100)


def path(theta: FloatArray) -> FloatArray:
    """One that goes further to the right, px."""
    moves = 4.0 * np.sin(theta) + 1.5 * np.cos(2.0 * theta) - 0.6 * np.sin(3.0 * theta)
    return np.asarray(moves)


def seen(times_s: FloatArray, drift_px_s: float = 0.0) -> FloatArray:
    """Ways between pictures at these times, to rounding."""
    place = path(2.0 * np.pi * RATE_HZ * times_s) + drift_px_s * times_s
    return np.concatenate([[np.nan], np.diff(place)])


def path_at(coefficients: FloatArray, theta: FloatArray) -> FloatArray:
    return np.asarray(basis(theta, HARMONICS) @ coefficients)


def learnt(ways_px: FloatArray, times_s: FloatArray) -> FloatArray:
    theta = 2.0 * np.pi * RATE_HZ * times_s
    found = learn_path(ways_px, basis(theta, HARMONICS), times_s, np.ones(len(times_s)))
    assert found is not None
    return path_at(found, THETA)


@pytest.mark.parametrize("drift_px_s", [0.0, -8.0])
def test_the_path_comes_back_whatever_the_times_between_pictures(drift_px_s: float) -> None:
    """Regular, shaken and with frames missing: a way is the difference of two places."""
    rng = np.random.default_rng(4)
    regular = np.arange(150) / 30.0
    shaken = regular + rng.uniform(-0.01, 0.01, 150)
    missing = regular[rng.random(150) > 0.15]
    for times_s in (regular, shaken, missing):
        found = learnt(seen(times_s, drift_px_s), times_s)
        assert np.abs(found - path(THETA)).max() < 0.15


@pytest.mark.parametrize("frames_per_s", [24.0, 60.0, 120.0])
def test_more_pictures_a_second_smooth_no_more(frames_per_s: float) -> None:
    """The fit of the same run is the same, whatever the camera's rate."""
    found = []
    for rate in (30.0, frames_per_s):
        times_s = np.arange(round(5.0 * rate)) / rate
        found.append(learnt(seen(times_s), times_s))
    assert np.abs(found[1] - found[0]).max() < 0.03


def test_noise_of_single_pictures_averages_out() -> None:
    rng = np.random.default_rng(5)
    times_s = np.arange(150) / 30.0
    found = learnt(seen(times_s) + rng.normal(0.0, 0.4, 150), times_s)
    assert np.abs(found - path(THETA)).max() < 0.8
    assert np.std(found - path(THETA)) < 0.35


def test_unknown_ways_are_left_out_and_too_few_say_nothing() -> None:
    rng = np.random.default_rng(6)
    times_s = np.arange(150) / 30.0
    columns, trust = basis(2.0 * np.pi * RATE_HZ * times_s, HARMONICS), np.ones(150)
    ways = seen(times_s)
    some, few = ways.copy(), ways.copy()
    order = rng.permutation(np.arange(1, 150))
    some[order[: int(0.8 * (1.0 - FEWEST) * 149)]] = np.nan
    few[order[: int(1.2 * (1.0 - FEWEST) * 149)]] = np.nan
    assert np.abs(learnt(some, times_s) - path(THETA)).max() < 0.2
    assert learn_path(few, columns, times_s, trust) is None
    assert learn_path(ways[:10], columns[:10], times_s[:10], trust[:10]) is None


def test_newer_strides_count_more() -> None:
    times_s = np.arange(150) / 30.0
    theta = 2.0 * np.pi * RATE_HZ * times_s
    ways = np.where(np.arange(150) < 75, 2.0, 1.0) * seen(times_s)
    trust = np.where(np.arange(150) < 75, 0.01, 1.0)
    found = learn_path(ways, basis(theta, HARMONICS), times_s, trust)
    assert found is not None
    assert np.abs(path_at(found, THETA) - path(THETA)).max() < 0.4


SHORT_LEG_PX = 1.0
"""So that how far landmarks may wander says nothing."""


def coefficients(size: float, late_rad: float = 0.0) -> FloatArray:
    """A sideways swing of this size, so much later than another."""
    out = np.zeros(13)
    out[1], out[2] = size * np.sin(late_rad), size * np.cos(late_rad)
    return out


def test_what_does_not_go_with_the_body_at_all_is_not_the_hips() -> None:
    """Much more or less than the landmarks say, or at another time of the stride."""
    body = coefficients(3.0)
    body[0] = 400.0  # where in the picture the runner is says nothing
    for size in (1.05 * LEAST, 1.0, 0.95 * MOST):
        assert follows(coefficients(3.0 * size), body, SHORT_LEG_PX)
    for size in (0.0, 0.95 * LEAST, 1.05 * MOST):
        assert not follows(coefficients(3.0 * size), body, SHORT_LEG_PX)
    edge_rad = float(np.arccos(ALIKE))
    assert follows(coefficients(3.0, edge_rad - 0.05), body, SHORT_LEG_PX)
    assert not follows(coefficients(3.0, edge_rad + 0.05), body, SHORT_LEG_PX)
    assert not follows(coefficients(3.0, np.pi), body, SHORT_LEG_PX)


def test_a_small_shift_may_differ_by_all_that_landmarks_wander() -> None:
    leg_px = 160.0
    small, wander_px = 0.005 * leg_px, WANDER * leg_px
    wandered = coefficients(small) + coefficients(0.97 * wander_px, np.pi / 2.0)
    assert follows(coefficients(small), wandered, leg_px)
    too_far = coefficients(small) + coefficients(1.03 * wander_px, np.pi / 2.0)
    assert not follows(coefficients(small), too_far, leg_px)
    nothing = coefficients(0.9 * ANYTHING * leg_px)
    assert not follows(nothing, coefficients(2.0 * small), leg_px), "nothing is seen in the picture"
