"""From when on a difference between left and right is one (pure)."""

from __future__ import annotations

import math
from typing import NamedTuple

from shared.statistics import Z90, Z95


class Noise(NamedTuple):
    """How surely one side's mean is known, in the measure's unit."""

    sem: float
    """Standard error of the mean: the scatter of the steps."""
    stated: float
    """Half width of the 90 % interval that its single values carry."""


def least_between_sides(left: Noise, right: Noise) -> float:
    """Smallest difference of two sides' means that is told.

    Most of a measure's own error is the same in every step of a session, so that no number of
    steps makes it smaller; nor is it the same on both sides. So noise and own error both count:
    1.96 times their standard deviations, all taken as independent.
    """
    errors = (left.sem, right.sem, left.stated / Z90, right.stated / Z90)
    return Z95 * math.hypot(*errors)
