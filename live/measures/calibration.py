"""Corrections and uncertainties of the measures, learnt from captured and drawn running.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset. What is stated as
its uncertainty is the error on sources that nothing was learnt from: each captured runner, each
gait, body and clothes is left out in turn, and the widest of these counts. ``python -m
tests.accuracy.tune`` prints this table anew; the cases kept apart never enter it. All bodies are
drawn: no clinical validation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from live.scene.leg_place import FAR, NEAR
from shared.flow import View

BODY_LENGTH_GAIN: Final = {View.BEHIND: 1.063, View.FRONT: 1.046, View.SIDE: 1.000}
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one, by view."""
BELT_SLOPE_GAIN: Final = 1.098
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.024
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
LANDMARKS: Final = "landmarks"
EITHER: Final = "either"
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 2.26, 10.4),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, -0.31, 10.4),
    ("arm_crossing", "across"): Correction(1.0, 1.5, 2.9),
    ("contact", "across"): Correction(1.0, 0.0, 26.17),
    ("contact", "far"): Correction(1.0, 0.0, 12.6),
    ("contact", "near"): Correction(1.0, 0.0, 12.6),
    ("contact_time", "far"): Correction(1.0, -0.07, 26.6),
    ("contact_time", "near"): Correction(1.0, -0.11, 26.6),
    ("flight_time", "far"): Correction(1.0, -1.28, 26.96),
    ("flight_time", "near"): Correction(1.0, 1.38, 26.96),
    ("hip_extension_peak", "far"): Correction(1.0, -2.01, 7.03),
    ("hip_extension_peak", "near"): Correction(1.0, -2.23, 7.03),
    ("knee_flexion_at_contact", "far"): Correction(1.0, 0.96, 8.88),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -0.6, 8.88),
    ("knee_flexion_peak", "any"): Correction(1.0, 0.69, 6.1),
    ("pelvic_shift", "across"): Correction(1.0, 0.5, 1.2),
    ("pelvic_shift", "landmarks"): Correction(1.0, 0.53, 1.02),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.01, 4.55),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.42, 4.55),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 4.0),
    ("step_time", "across"): Correction(1.0, 0.0, 12.77),
    ("step_time", "far"): Correction(1.0, 0.0, 12.82),
    ("step_time", "near"): Correction(1.0, 0.0, 12.82),
    ("step_width", "any"): Correction(1.0, -3.02, 3.21),
    ("steps_span", "any"): Correction(1.0, 0.0, 8.53),
    ("strike_ahead", "far"): Correction(0.741, 8.26, 3.88),
    ("strike_ahead", "near"): Correction(0.741, 8.26, 3.88),
    ("toe_off", "across"): Correction(1.0, 0.0, 28.59),
    ("toe_off", "far"): Correction(1.0, 0.0, 27.58),
    ("toe_off", "near"): Correction(1.0, 0.0, 27.58),
    ("trunk_lean", "any"): Correction(0.824, 3.97, 2.16),
    ("trunk_side_lean", "across"): Correction(1.0, -0.14, 2.45),
    ("vertical_excursion", "any"): Correction(1.0, -0.24, 1.3),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any.

"landmarks" is across too, where the picture itself was not looked at.

The hand's crossing is learnt otherwise: its offset from every source of movement alike (invented
arms, invented ones that swing less or further, two captured runners' arms, a second invented gait),
its sd so that the interval holds in the source where it is off most.

Times stand behind other values: ``step_time`` behind the step length, ``steps_span`` (a run of
steps, first contact to last) behind the cadence; both in ms.
"""


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
