"""The belt's pace over strides: steady, blind to a single poor one, and quick after a change."""

from __future__ import annotations

import random
from statistics import median, pstdev

import pytest

from live.scale import BeltPace


def fed(*paces: float) -> list[float]:
    pace = BeltPace()
    return [pace.add(one) for one in paces]


def test_it_is_steadier_than_its_strides() -> None:
    chance = random.Random(4)
    strides = [1.6 * chance.gauss(1.0, 0.02) for _ in range(400)]
    found = fed(*strides)
    assert pstdev(found[12:]) < 0.5 * pstdev(strides)
    assert median(found) == pytest.approx(1.6, rel=0.005)


@pytest.mark.parametrize("poor", [0.5, 1.25, 2.0])
@pytest.mark.parametrize("strides", [1, 2, 3])
def test_up_to_three_poor_strides_move_it_by_no_more_than_the_others_scatter(
    poor: float, strides: int
) -> None:
    even = [1.58, 1.6, 1.62, 1.59, 1.61, 1.6, 1.6, 1.6]
    found = fed(*even, *[1.6 * poor] * strides, *even)
    assert all(1.58 <= one <= 1.62 for one in found)


@pytest.mark.parametrize("share", [0.7, 0.9, 1.1, 1.5])
def test_a_belt_set_anew_is_followed_within_four_strides(share: float) -> None:
    found = fed(*[1.6] * 20, *[1.6 * share] * 4)
    assert found[-2] == pytest.approx(1.6)
    assert found[-1] == pytest.approx(1.6 * share)


def test_a_slow_climb_is_followed_too() -> None:
    """1 % a stride for a minute: never behind by more than what counts as a change."""
    strides = [1.6 * 1.01**n for n in range(80)]
    behind = [one / found for one, found in zip(strides, fed(*strides), strict=True)]
    assert max(behind) < 1.12


def test_the_first_stride_is_taken_as_it_is() -> None:
    assert fed(1.4) == [1.4]
