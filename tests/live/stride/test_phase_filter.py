"""The phase's filter in plain numbers, against the same in matrices as the textbooks write it.

Kalman filter and Rauch-Tung-Striebel pass as in Saerkkae, Bayesian Filtering and Smoothing (2013),
equations 4.20, 4.21 and 8.6 (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from live.stride.phase_filter import RATE_WALK, Belief, correct, predict, smooth_back
from shared.flow import FloatArray

START = Belief(0.4, 8.0, 0.2**2, 0.0, 0.3**2)
SHIFTS = [(0.05, 0.002), (-0.1, 0.01), (0.02, 0.0009), (0.3, 0.05), (-0.04, 0.001)]
STEPS_S = [1 / 30, 1 / 24, 0.1, 1 / 60, 1 / 30]
Pair = tuple[FloatArray, FloatArray]


def as_matrices(belief: Belief) -> Pair:
    theta, rate, theta_var, both_cov, rate_var = belief
    return np.array([theta, rate]), np.array([[theta_var, both_cov], [both_cov, rate_var]])


def transition(dt_s: float) -> FloatArray:
    return np.array([[1.0, dt_s], [0.0, 1.0]])


def by_the_book() -> tuple[list[Pair], list[Pair], list[Pair]]:
    """Filtered and predicted (without the start's own), and smoothed beliefs."""
    mean, spread = as_matrices(START)
    filtered, predicted = [(mean, spread)], []
    seen = np.array([[1.0, 0.0]])
    for dt_s, (shift, variance) in zip(STEPS_S, SHIFTS, strict=True):
        forward = transition(dt_s)
        walk = RATE_WALK * np.array([[dt_s**3 / 3, dt_s**2 / 2], [dt_s**2 / 2, dt_s]])
        mean, spread = forward @ mean, forward @ spread @ forward.T + walk
        predicted.append((mean, spread))
        gain = spread @ seen.T / (seen @ spread @ seen.T + variance)
        mean, spread = mean + gain[:, 0] * shift, spread - gain @ seen @ spread
        filtered.append((mean, spread))
    smoothed = [filtered[-1]]
    for place in range(len(STEPS_S) - 1, -1, -1):
        mean, spread = filtered[place]
        later_mean, later_spread = predicted[place]
        gain = spread @ transition(STEPS_S[place]).T @ np.linalg.inv(later_spread)
        smoothed.append(
            (
                mean + gain @ (smoothed[-1][0] - later_mean),
                spread + gain @ (smoothed[-1][1] - later_spread) @ gain.T,
            )
        )
    return filtered, predicted, smoothed


def in_numbers() -> tuple[list[Belief], list[Belief]]:
    filtered, predicted = [START], []
    for dt_s, (shift, variance) in zip(STEPS_S, SHIFTS, strict=True):
        predicted.append(predict(filtered[-1], dt_s))
        filtered.append(correct(predicted[-1], shift, variance))
    return filtered, predicted


def test_prediction_and_correction_are_the_textbooks() -> None:
    (filtered, predicted), book = in_numbers(), by_the_book()
    for found, (mean, spread) in zip(
        [*filtered, *predicted], [*book[0], *book[1]], strict=True
    ):  # fmt: skip
        assert as_matrices(found)[0] == pytest.approx(mean, abs=1e-12)
        assert as_matrices(found)[1] == pytest.approx(spread, abs=1e-12)


def test_later_frames_correct_earlier_ones_as_in_the_textbooks() -> None:
    filtered, predicted = in_numbers()
    times = np.cumsum([0.0, *STEPS_S]).tolist()
    found = list(smooth_back(times, filtered, [None, *predicted]))
    book = [float(mean[0]) for mean, _ in by_the_book()[2][1:]]
    assert found == pytest.approx(book, abs=1e-12)
    assert found[-1] != pytest.approx(START.theta, abs=1e-3)  # it did correct something


def test_smoothing_ends_where_a_belief_is_missing() -> None:
    filtered, predicted = in_numbers()
    times = np.cumsum([0.0, *STEPS_S]).tolist()
    before: list[Belief | None] = [None, *predicted]
    before[3] = None
    assert len(list(smooth_back(times, filtered, before))) == 2
    assert list(smooth_back(times, [*filtered[:-1], None], before)) == []
