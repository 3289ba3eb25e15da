"""Corrections and uncertainties of the measures, learnt from the rendered tuning cases.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset, and its error
that remains is its uncertainty. ``python -m tests.accuracy.tune`` prints this table anew from
the tuning cases; the cases kept apart never enter it. Rendered truth, not a clinical validation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from shared.records import Side, View

BODY_LENGTH_GAIN: Final = {View.BEHIND: 1.063, View.FRONT: 1.046, View.SIDE: 1.000}
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one, by view."""
BELT_SLOPE_GAIN: Final = 1.082
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.0185
"""SD of the belt speed read from the landmarks, as a share of it."""
SHOE_SPEED_GAIN: Final = 0.999
"""True speed of the belt over that of the shoes' pixels; the far shoe is further than the hips."""
SHOE_SPEED_SD: Final = 0.0157
"""SD of the belt speed read from the shoes' pixels, as a share of it."""


@dataclass(frozen=True, slots=True)
class Correction:
    """value = gain * raw + offset; ``sd`` of what remains. Lengths are in % of leg length."""

    gain: float = 1.0
    offset: float = 0.0
    sd: float = 1.0


ANY: Final = "any"
NEAR: Final = "near"
FAR: Final = "far"
ACROSS: Final = "across"
LANDMARKS: Final = "landmarks"
EITHER: Final = "either"
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 4.24, 1.83),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 2.89, 1.95),
    ("arm_crossing", "across"): Correction(1.0, 1.5, 2.6),
    ("contact", "across"): Correction(1.0, 0.0, 15.43),
    ("contact", "far"): Correction(1.0, 0.0, 5.52),
    ("contact", "near"): Correction(1.0, 0.0, 5.42),
    ("contact_time", "far"): Correction(1.0, 0.3, 9.47),
    ("contact_time", "near"): Correction(1.0, 2.18, 10.05),
    ("flight_time", "far"): Correction(1.0, -0.22, 10.09),
    ("flight_time", "near"): Correction(1.0, -2.26, 10.67),
    ("hip_extension_peak", "far"): Correction(1.0, -1.87, 2.58),
    ("hip_extension_peak", "near"): Correction(1.0, -1.11, 2.52),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -1.41, 4.42),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -2.46, 3.69),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.08, 3.45),
    ("knee_flexion_peak", "near"): Correction(1.0, -7.6, 4.17),
    ("pelvic_shift", "across"): Correction(0.959, 0.66, 0.39),
    ("pelvic_shift", "landmarks"): Correction(0.768, 0.99, 0.48),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.39, 2.48),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.72, 2.11),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.24),
    ("step_time", "across"): Correction(1.0, 0.0, 7.37),
    ("step_time", "far"): Correction(1.0, 0.0, 4.79),
    ("step_time", "near"): Correction(1.0, 0.0, 5.03),
    ("step_width", "any"): Correction(1.0, -3.41, 1.71),
    ("steps_span", "any"): Correction(1.0, 0.0, 4.07),
    ("strike_ahead", "far"): Correction(0.759, 8.1, 1.91),
    ("strike_ahead", "near"): Correction(0.759, 8.1, 1.7),
    ("toe_off", "across"): Correction(1.0, 0.0, 18.8),
    ("toe_off", "far"): Correction(1.0, 0.0, 9.7),
    ("toe_off", "near"): Correction(1.0, 0.0, 10.5),
    ("trunk_lean", "any"): Correction(0.871, 3.75, 1.34),
    ("trunk_side_lean", "across"): Correction(1.0, -0.41, 1.12),
    ("vertical_excursion", "any"): Correction(1.0, -0.22, 0.4),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any.

"landmarks" is across too, where the picture itself was not looked at.

The hand's crossing is learnt otherwise: its offset from every source of movement alike (invented
arms, invented ones that swing less or further, two captured runners' arms, a second invented gait),
its sd so that the interval holds in the source where it is off most.

Times stand behind other values: ``step_time`` behind the step length, ``steps_span`` (a run of
steps, first contact to last) behind the cadence; both in ms.
"""


def place_of(view: View, side: Side, forward: float) -> str:
    """Which leg this is to the camera; ``forward`` is +1 when the runner faces right in it."""
    if view is not View.SIDE:
        return ACROSS
    return NEAR if side is (Side.RIGHT if forward > 0 else Side.LEFT) else FAR


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt.

    For either leg, where it is not known whether it is the near or the far one: half-way between
    the two, and as unsure as that makes it.
    """
    if place == EITHER:
        near, far = correction(name, NEAR), correction(name, FAR)
        return Correction(
            (near.gain + far.gain) / 2.0,
            (near.offset + far.offset) / 2.0,
            math.hypot(near.sd, far.sd, (near.offset - far.offset) / math.sqrt(2.0))
            / math.sqrt(2.0),
        )
    return CORRECTIONS.get((name, place), Correction())
