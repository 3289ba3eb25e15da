"""From when on a difference between left and right is one (pure)."""

from __future__ import annotations

import math
from typing import Final, NamedTuple

from shared.change import Error, least_change
from shared.statistics import Z90

OF_BOTH: Final[dict[str, float]] = {
    "ankle_dorsiflexion_peak": 0.41,
    "arm_crossing": 1.87,
    "contact_time": 0.39,
    "flight_time": 0.71,
    "hip_extension_peak": 0.71,
    "knee_flexion_at_contact": 0.59,
    "pelvic_shift": 0.44,
    "shank_angle_at_contact": 0.63,
    "strike_ahead": 0.58,
    "trunk_side_lean": 1.34,
}
"""By measure: how far a difference between the sides of one run is off, as a share of what it
would be were the two sides' own errors independent. What is off on both alike cancels: where the
model sees the hips, the scale, the body's build. Learnt with each source of movement, body and
clothes left out in turn (``python -m tests.accuracy.tune``), by the rule of the values' own
uncertainty. Above 1 the two err against each other; what is not named is taken as independent."""


class Noise(NamedTuple):
    """How surely one side's mean is known, in the measure's unit."""

    sem: float
    """Standard error of the mean: the scatter of the steps."""
    freedom: float
    """Degrees of freedom of ``sem``."""
    stated: float
    """Half width of the 90 % interval that its single values carry."""


def least_between_sides(measure: str, left: Noise, right: Noise) -> float:
    """Smallest difference of two sides' means of a measure that is told, in its unit.

    A measure's own error is the same in every step of a session, so that no number of steps makes
    it smaller; part of it is the same on both sides, too. So the steps' noise and what is left of
    the own error both count, the latter as known for sure.
    """
    own = OF_BOTH.get(measure, 1.0) * math.hypot(left.stated, right.stated) / Z90
    return least_change(Error(left.sem, left.freedom), Error(right.sem, right.freedom), Error(own))
