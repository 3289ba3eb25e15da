"""The symmetry index against worked examples from print."""

from __future__ import annotations

import math

import pytest

from shared.statistics import symmetry_index


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
