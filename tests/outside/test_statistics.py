"""Circular statistics and symmetry index against scipy and worked examples from print."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import circmean, circstd, circvar

from shared.statistics import mean_direction, symmetry_index

# Angles in degrees, mean direction in degrees, mean resultant length.
WORKED = {
    # Zar, Biostatistical Analysis, example of the mean angle (data from memory).
    "Zar": ([45, 55, 81, 96, 110, 117, 132, 154], 98.988, 0.825218),
    # Example in the documentation of astropy.stats.circmean and circvar (from memory).
    "astropy": ([51, 67, 40, 109, 31, 358], 48.62718, 0.836437),
    # Example in the documentation of scipy.stats.circmean and circvar, across north.
    "scipy": ([5, 15, 355], 5.0, 0.989872),
    # By hand: cos 10 deg; cos 45 deg.
    "across north": ([350, 10], 0.0, math.cos(math.radians(10))),
    "square": ([0, 90], 45.0, math.sqrt(0.5)),
}


@pytest.mark.parametrize(("degrees", "mean_deg", "length"), WORKED.values(), ids=WORKED)
def test_worked_examples(degrees: list[float], mean_deg: float, length: float) -> None:
    found = mean_direction(np.radians(degrees))
    assert found.angle_rad is not None
    assert math.degrees(found.angle_rad) == pytest.approx(mean_deg, abs=1e-3)
    assert found.length == pytest.approx(length, abs=1e-6)


def test_worked_example_in_radians() -> None:
    """Example in the documentation of pingouin.circ_mean and circ_r (from memory)."""
    found = mean_direction(np.array([0.785, 1.570, 3.141, 0.839, 5.934]))
    assert found.angle_rad == pytest.approx(1.012962, abs=1e-6)
    assert found.length == pytest.approx(0.497230, abs=1e-6)


@given(st.lists(st.floats(-50.0, 50.0), min_size=1, max_size=60))
def test_any_angles_as_scipy_has_them(values: list[float]) -> None:
    angles = np.array(values)
    found = mean_direction(angles)
    assert 1.0 - found.length == pytest.approx(circvar(angles), abs=1e-9)
    if found.angle_rad is not None and found.length > 1e-3:
        other = float(circmean(angles, high=math.pi, low=-math.pi))
        assert math.cos(found.angle_rad - other) == pytest.approx(1.0, abs=1e-9)
    if 1e-3 < found.length < 1.0 - 1e-6:
        spread = math.sqrt(-2.0 * math.log(found.length))
        assert spread == pytest.approx(float(circstd(angles)), abs=1e-6)


def test_symmetry_index_worked_example() -> None:
    """Robinson, Herzog and Nigg 1987: left 380 ms, right 340 ms gives -40 / 360 = -11.11 %.

    The logarithm of the ratio, which others use (from memory), must nearly agree: -11.12 %.
    """
    assert symmetry_index(380.0, 340.0) == pytest.approx(-11.111, abs=1e-3)
    assert symmetry_index(340.0, 380.0) == pytest.approx(11.111, abs=1e-3)
    assert symmetry_index(380.0, 340.0) == pytest.approx(100 * math.log(340 / 380), abs=0.02)


def test_the_index_is_not_the_symmetry_angle_of_some_papers() -> None:
    """Hanley and Tucker 2018 give symmetry angles; 1.2 % there is near 3.8 % here.

    Angle (45 deg - atan(L / R)) / 90 deg: -3.53 % for the example above.
    """

    def angle_pct(left: float, right: float) -> float:
        return 100.0 * (45.0 - math.degrees(math.atan2(left, right))) / 90.0

    assert angle_pct(380.0, 340.0) == pytest.approx(-3.53, abs=0.01)
    right = math.tan(math.radians(45.0 + 0.9 * 1.2))
    assert angle_pct(1.0, right) == pytest.approx(1.2)
    assert symmetry_index(1.0, right) == pytest.approx(3.77, abs=0.01)
