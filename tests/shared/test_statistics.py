"""Mean direction and symmetry index: their limits and what must hold for any numbers."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.statistics import mean_direction, symmetry_index

angles = st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=40)
sizes = st.floats(0.001, 1e6)


def test_angles_that_cancel_out_have_no_direction() -> None:
    for values in ([0.0, math.pi], [0.1, 0.1 + math.tau / 3, 0.1 + 2 * math.tau / 3]):
        found = mean_direction(np.array(values))
        assert found.angle_rad is None
        assert found.length == pytest.approx(0.0, abs=1e-12)


def test_no_angles_at_all_are_refused() -> None:
    with pytest.raises(ValueError, match="no angles"):
        mean_direction(np.empty(0))


@given(angles)
def test_whole_turns_change_nothing(values: list[float]) -> None:
    here = mean_direction(np.array(values))
    there = mean_direction(np.array(values) + math.tau * np.arange(len(values)))
    assert 0.0 <= here.length <= 1.0
    assert there.length == pytest.approx(here.length, abs=1e-9)


@given(angles, st.floats(-3.0, 3.0))
def test_turning_all_turns_the_mean(values: list[float], turn: float) -> None:
    here, there = (mean_direction(np.array(values) + by) for by in (0.0, turn))
    assert there.length == pytest.approx(here.length, abs=1e-9)
    if here.angle_rad is not None and there.angle_rad is not None and here.length > 0.01:
        off = (there.angle_rad - here.angle_rad - turn + math.pi) % math.tau - math.pi
        assert off == pytest.approx(0.0, abs=1e-6)
        assert -math.pi <= here.angle_rad <= math.pi


@given(sizes, sizes)
def test_exchanging_the_sides_turns_the_sign(left: float, right: float) -> None:
    index = symmetry_index(left, right)
    assert symmetry_index(right, left) == -index
    assert symmetry_index(2 * left, 2 * right) == pytest.approx(index)
    assert abs(index) <= 200.0
    assert symmetry_index(left, left) == 0.0


@pytest.mark.parametrize(("left", "right"), [(0.0, 0.0), (1.0, -1.0), (-2.0, 1.0), (math.nan, 1)])
def test_sides_without_size_are_refused(left: float, right: float) -> None:
    with pytest.raises(ValueError, match="no size"):
        symmetry_index(left, right)
