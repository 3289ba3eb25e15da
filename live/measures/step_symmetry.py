"""How far apart in the stride the two feet's contacts lie, from the whole movement on both sides.

A sign of contact is read at one instant, and a few milliseconds there make a limp. Both sides do
the same thing half a stride apart, so a whole stretch of one side's movement is laid over the
other's: where it fits best is how far apart they are. It says nothing about when contact is.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.measures.contact_signs import Curves, slope, steadied, top
from live.stride.fourier import GRID, TWO_PI
from shared.flow import FloatArray, Side

MOST_OFF: Final = GRID // 12
"""Grid points by which the second half of the stride may begin early or late: 30 degrees, a
symmetry index of 67 points."""
LAGS: Final = (GRID // 2 + np.arange(-MOST_OFF, MOST_OFF + 1))[:, None]
AROUND_CONTACT_S: Final = 0.08
"""A longer stretch reaches into the other side's fall and hides a part of a limp: a third of it at
0.12 s, a tenth at 0.08 (rendered tuning cases)."""
FALL_STEADY_S: Final = 0.04
ALL_ROUND_APART: Final = np.arange(0, GRID, 5)
"""Six harmonics are told in full by far fewer points than the grid has."""


def half_turn(
    left: Curves, right: Curves, left_contact: float, by_feet: dict[Side, float]
) -> float:
    """Phase from the left foot's contact to the right one's, rad, near pi.

    ``by_feet`` holds both contacts as the signs of the feet have them, rad; it is empty from behind
    and in front, where the legs hardly move in the picture and the body alone tells. From the side
    feet, legs and body count alike.
    """
    by_body = _falls_apart(left, left_contact)
    if not by_feet:
        return by_body
    turn = (by_feet[Side.RIGHT] - by_feet[Side.LEFT]) % TWO_PI
    return (turn + by_body + _legs_apart(left, right)) / 3.0


def _legs_apart(left: Curves, right: Curves) -> float:
    """By how much the right leg's movement lags the left one's: knee and ankle, all round."""
    alike = np.zeros(2 * MOST_OFF + 1)
    for one, other in zip(left.leg_ahead, right.leg_ahead, strict=True):
        speeds = slope(one, left.step_s), slope(other, right.step_s)
        alike += _likeness(*speeds, ALL_ROUND_APART)
    return _best(alike)


def _falls_apart(c: Curves, left_contact: float) -> float:
    """By how much the body's fall onto the right foot lags its fall onto the left one."""
    fall = slope(steadied(c.body_down, c.step_s, FALL_STEADY_S), c.step_s)
    around = round(AROUND_CONTACT_S / c.step_s)
    stretch = round(left_contact / TWO_PI * GRID) + np.arange(-around, around + 1)
    return _best(_likeness(fall, fall, stretch))


def _likeness(one: FloatArray, other: FloatArray, stretch: NDArray[np.int_]) -> FloatArray:
    """Correlation of ``one`` on the stretch with ``other``, by how much later that is."""
    here = one.take(stretch, mode="wrap")
    there = other.take(stretch + LAGS, mode="wrap")
    here = here - here.mean()
    there -= there.mean(axis=1, keepdims=True)
    size2 = (here @ here) * np.einsum("ij,ij->i", there, there)
    return np.asarray(there @ here / np.maximum(np.sqrt(size2), 1e-12))


def _best(alike: FloatArray) -> float:
    """The lag at which it is highest, rad."""
    return (GRID // 2 - MOST_OFF + top(alike)) * TWO_PI / GRID
