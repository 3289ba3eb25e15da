"""From when on a difference between left and right is told."""

from __future__ import annotations

import math

import pytest

from feedback.training.side_difference import OF_BOTH, Noise, least_between_sides
from shared.catalogue import CATALOGUE
from shared.statistics import Z90, Z95

SURE = Noise(sem=0.0, freedom=math.inf, stated=Z90)
"""Many steps; own error of SD 1."""


def test_what_is_off_on_both_sides_alike_does_not_count() -> None:
    """By hand: two own errors of SD 1 make one of sqrt(2), of which a measure's share is left."""
    share = OF_BOTH["pelvic_shift"]
    assert share < 0.7
    found = least_between_sides("pelvic_shift", SURE, SURE)
    assert found == pytest.approx(Z95 * share * math.sqrt(2.0), rel=1e-6)


def test_without_a_share_the_two_count_as_independent() -> None:
    assert "step_length" not in OF_BOTH
    found = least_between_sides("step_length", SURE, SURE)
    assert found == pytest.approx(Z95 * math.sqrt(2.0), rel=1e-6)


def test_the_steps_own_noise_counts_whole_and_more_where_they_are_few() -> None:
    noisy = Noise(sem=1.0, freedom=math.inf, stated=0.0)
    few = Noise(sem=1.0, freedom=4.0, stated=0.0)
    found = least_between_sides("pelvic_shift", noisy, noisy)
    assert found == pytest.approx(Z95 * math.sqrt(2.0), rel=1e-6)
    assert least_between_sides("pelvic_shift", few, few) > 1.1 * found


def test_shares_are_of_measures_by_side() -> None:
    assert all(CATALOGUE[name].by_side for name in OF_BOTH)
