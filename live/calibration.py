"""Corrections and uncertainties of the measures, learnt from the rendered tuning cases.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset, and its error
that remains is its uncertainty. ``python -m tests.accuracy.tune`` prints this table anew from
the tuning cases; the cases kept apart never enter it. Rendered truth, not a clinical validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from shared.records import Side, View

BODY_LENGTH_GAIN: Final = {View.BEHIND: 1.063, View.FRONT: 1.046, View.SIDE: 1.000}
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one, by view."""
BELT_SLOPE_GAIN: Final = 1.084
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.0175
"""SD of the belt speed read from the landmarks, as a share of it."""
SHOE_SPEED_GAIN: Final = 1.001
"""True speed of the belt over that of the shoes' pixels; the far shoe is further than the hips."""
SHOE_SPEED_SD: Final = 0.0137
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
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 4.07, 1.77),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 2.78, 1.96),
    ("arm_crossing", "across"): Correction(1.058, 1.25, 2.72),
    ("arm_direction", "across"): Correction(1.0, 1.55, 10.75),
    ("contact", "across"): Correction(1.0, 0.0, 15.01),
    ("contact", "far"): Correction(1.0, 0.0, 5.79),
    ("contact", "near"): Correction(1.0, 0.0, 5.52),
    ("contact_time", "far"): Correction(1.0, 0.44, 10.1),
    ("contact_time", "near"): Correction(1.0, 2.69, 10.97),
    ("flight_time", "far"): Correction(1.0, -0.29, 11.04),
    ("flight_time", "near"): Correction(1.0, -2.77, 11.37),
    ("hip_extension_peak", "far"): Correction(1.0, -1.98, 2.86),
    ("hip_extension_peak", "near"): Correction(1.0, -1.1, 2.91),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -1.55, 4.82),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -2.45, 3.85),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.03, 3.66),
    ("knee_flexion_peak", "near"): Correction(1.0, -7.21, 3.58),
    ("pelvic_shift", "across"): Correction(0.984, 0.6, 0.38),
    ("pelvic_shift", "landmarks"): Correction(0.817, 0.87, 0.5),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.51, 2.55),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.77, 2.25),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.18),
    ("step_time", "across"): Correction(1.0, 0.0, 7.43),
    ("step_time", "far"): Correction(1.0, 0.0, 4.55),
    ("step_time", "near"): Correction(1.0, 0.0, 4.81),
    ("step_width", "any"): Correction(1.0, -3.39, 1.48),
    ("steps_span", "any"): Correction(1.0, 0.0, 5.27),
    ("strike_ahead", "far"): Correction(0.764, 8.04, 2.04),
    ("strike_ahead", "near"): Correction(0.764, 8.04, 1.79),
    ("toe_off", "across"): Correction(1.0, 0.0, 21.68),
    ("toe_off", "far"): Correction(1.0, 0.0, 9.94),
    ("toe_off", "near"): Correction(1.0, 0.0, 11.49),
    ("trunk_lean", "any"): Correction(0.885, 3.72, 1.53),
    ("trunk_side_lean", "across"): Correction(1.0, -0.39, 1.16),
    ("vertical_excursion", "any"): Correction(1.0, -0.21, 0.43),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any.

"landmarks" is across too, where the picture itself was not looked at.

Times stand behind other values: ``step_time`` behind the step length, ``steps_span`` (a run of
steps, first contact to last) behind the cadence; both in ms.
"""


def place_of(view: View, side: Side, forward: float) -> str:
    """Which leg this is to the camera; ``forward`` is +1 when the runner faces right in it."""
    if view is not View.SIDE:
        return ACROSS
    return NEAR if side is (Side.RIGHT if forward > 0 else Side.LEFT) else FAR


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt."""
    return CORRECTIONS.get((name, place), Correction())
