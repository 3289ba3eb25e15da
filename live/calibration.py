"""Corrections and uncertainties of the measures, learnt from the rendered tuning cases.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset, and its error
that remains is its uncertainty. ``python -m tests.accuracy.tune`` prints this table anew from
the tuning cases; the cases kept apart never enter it. Rendered truth, not a clinical validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

BODY_LENGTH_GAIN: Final = 1.010
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one."""
BELT_SLOPE_GAIN: Final = 1.061
"""True speed of the standing foot over the landmarks' one."""
HIPS_PER_THIGH_DEG: Final = 0.0040
"""How far the hip landmarks lie ahead of the joints varies between bodies, and shows in the thigh:
the further ahead they lie, the more upright it seems. In leg lengths per degree of thigh."""
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
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 13.01, 2.61),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 9.68, 3.73),
    ("arm_crossing", "across"): Correction(1.0, 0.51, 2.37),
    ("arm_direction", "across"): Correction(1.0, -3.32, 5.99),
    ("cadence", "any"): Correction(1.0, 0.0, 0.38),
    ("contact", "any"): Correction(1.0, 0.0, 6.97),
    ("contact_time", "far"): Correction(1.0, 1.93, 8.59),
    ("contact_time", "near"): Correction(1.0, 3.5, 8.56),
    ("flight_time", "far"): Correction(1.0, -1.58, 7.86),
    ("flight_time", "near"): Correction(1.0, -3.84, 9.25),
    ("hip_extension_peak", "far"): Correction(1.0, -2.64, 1.51),
    ("hip_extension_peak", "near"): Correction(1.0, -1.51, 1.99),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -2.32, 4.16),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -1.39, 2.78),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.18, 3.68),
    ("knee_flexion_peak", "near"): Correction(1.0, -4.46, 2.13),
    ("pelvic_shift", "across"): Correction(0.82, 0.59, 0.35),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.8, 2.22),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.11, 2.11),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 0.76),
    ("step_length", "across"): Correction(1.0, 0.0, 2.46),
    ("step_length", "far"): Correction(1.0, 0.0, 1.71),
    ("step_length", "near"): Correction(1.0, 0.0, 1.84),
    ("step_width", "any"): Correction(1.0, -3.5, 1.65),
    ("strike_ahead", "far"): Correction(1.0, 13.21, 2.07),
    ("strike_ahead", "near"): Correction(1.0, 12.79, 1.73),
    ("toe_off", "any"): Correction(1.0, 0.0, 17.18),
    ("trunk_lean", "any"): Correction(1.011, 3.15, 1.5),
    ("trunk_side_lean", "across"): Correction(1.0, -0.08, 0.97),
    ("vertical_excursion", "any"): Correction(1.0, 0.15, 1.19),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any."""


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt."""
    return CORRECTIONS.get((name, place), Correction())
