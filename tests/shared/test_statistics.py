"""The symmetry index: its limits and what must hold for any numbers."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.statistics import symmetry_index

sizes = st.floats(0.001, 1e6)


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
