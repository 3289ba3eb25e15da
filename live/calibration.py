"""Corrections and uncertainties of the measures, learnt from the rendered tuning cases.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset, and its error
that remains is its uncertainty. ``python -m tests.accuracy.tune`` prints this table anew from
the tuning cases; the cases kept apart never enter it. Rendered truth, not a clinical validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

BODY_LENGTH_GAIN: Final = 1.0
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one."""
BELT_SLOPE_GAIN: Final = 1.07
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.03
"""SD of the belt speed read from the picture, as a share of it."""
MIDDLE_LEG_CM: Final = 92.0
"""Hip height of a runner of 1.74 m; carries corrections over where the scale is unknown."""


@dataclass(frozen=True, slots=True)
class Correction:
    """value = gain * raw + offset; ``sd`` of what remains, in the measure's first unit."""

    gain: float = 1.0
    offset: float = 0.0
    sd: float = 1.0


ANY: Final = "any"
NEAR: Final = "near"
FAR: Final = "far"
ACROSS: Final = "across"
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {}
"""By measure and which leg it is to the camera: near, far (side view), across, or any."""


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt."""
    return CORRECTIONS.get((name, place), Correction())
