"""The filter that steadies drawn landmarks: its own behaviour at gaps, repeats and rest."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from live.smoothing import OneEuro
from shared.records import FloatArray, View
from tests.live.virtual_runner import HEIGHT_PX, Spoil, take
from tests.rendered.params import RunnerParams

NOISE_PX = 2.0


def true_landmarks(frames_per_s: float) -> FloatArray:
    """(n, 33, 2) picture heights, of a runner seen from the side."""
    made = take(RunnerParams(start_s=0.0), View.SIDE, 16.0, frames_per_s, spoil=Spoil(0.0))
    return np.stack([pose.xy_px for pose in made.poses]) / HEIGHT_PX


def steadied(values: FloatArray, frames_per_s: float) -> FloatArray:
    filter_ = OneEuro()
    return np.stack([filter_.smooth(row, i / frames_per_s) for i, row in enumerate(values)])


@pytest.mark.parametrize("frames_per_s", [30.0, 60.0])
def test_a_body_at_rest_trembles_less(frames_per_s: float) -> None:
    still = np.random.default_rng(1).normal(0.5, NOISE_PX / HEIGHT_PX, (600, 33, 2))
    tremble_px = HEIGHT_PX * steadied(still, frames_per_s)[20:].std()
    assert tremble_px < 0.65 * NOISE_PX


@pytest.mark.parametrize("frames_per_s", [30.0, 60.0])
def test_a_running_body_is_drawn_where_it_is(frames_per_s: float) -> None:
    """Steadier from frame to frame than the raw landmarks, and at most half as far off again."""
    true = true_landmarks(frames_per_s)
    raw = true + np.random.default_rng(0).normal(0.0, NOISE_PX / HEIGHT_PX, true.shape)
    known = np.isfinite(true)
    off = [np.where(known, drawn - true, 0.0)[20:] for drawn in (raw, steadied(raw, frames_per_s))]
    raw_off, drawn_off = (np.sqrt((each**2).mean()) for each in off)
    raw_jump, drawn_jump = (np.sqrt((np.diff(each, axis=0) ** 2).mean()) for each in off)
    assert drawn_off < 1.5 * raw_off
    assert drawn_jump < 0.8 * raw_jump


@given(st.lists(st.floats(-10.0, 10.0), min_size=1, max_size=30), st.floats(0.001, 0.5))
def test_it_never_leaves_the_range_of_what_came_in(values: list[float], gap_s: float) -> None:
    filter_ = OneEuro()
    for index, value in enumerate(values):
        drawn = filter_.smooth(np.array([value]), index * gap_s)[0]
        seen = values[: index + 1]
        assert min(seen) - 1e-9 <= drawn <= max(seen) + 1e-9


def test_a_landmark_that_was_gone_starts_where_it_comes_back() -> None:
    filter_ = OneEuro()
    for index in range(10):
        filter_.smooth(np.array([0.1, 0.1]), index / 30)
    gone = filter_.smooth(np.array([np.nan, 0.1]), 10 / 30)
    assert np.isnan(gone[0])
    assert gone[1] == pytest.approx(0.1)
    assert filter_.smooth(np.array([0.9, 0.1]), 11 / 30)[0] == 0.9


def test_a_frame_that_is_not_newer_changes_nothing() -> None:
    filter_, plain = OneEuro(), OneEuro()
    for index, value in enumerate(np.linspace(0.0, 1.0, 10)):
        here = np.array([value])
        expected = plain.smooth(here, index / 30)
        assert filter_.smooth(here, index / 30) == expected
        assert filter_.smooth(np.array([9.0]), index / 30) == expected
        assert filter_.smooth(np.array([9.0]), index / 30 - 0.01) == expected


def test_it_starts_anew_for_another_runner() -> None:
    filter_ = OneEuro()
    filter_.smooth(np.array([0.0]), 1.0)
    filter_.reset()
    assert filter_.smooth(np.array([0.7]), 0.5) == 0.7


def test_what_it_hands_out_is_not_its_memory() -> None:
    filter_, plain = OneEuro(), OneEuro()
    first = np.array([0.2])
    filter_.smooth(first, 0.0)[0] = 5.0
    first[0] = 5.0
    plain.smooth(np.array([0.2]), 0.0)
    later = np.array([0.3])
    assert filter_.smooth(later, 0.1) == plain.smooth(later, 0.1)
