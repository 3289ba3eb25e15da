"""Corrections and uncertainties of the measures, learnt from the rendered tuning cases.

Landmarks lie on the body's surface, a little off the joint centres, and nearly always the same
way. Each measure's raw reading is therefore put right by a gain and an offset, and its error
that remains is its uncertainty. ``python -m tests.accuracy.tune`` prints this table anew from
the tuning cases; the cases kept apart never enter it. Rendered truth, not a clinical validation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

BODY_LENGTH_GAIN: Final = 1.013
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one."""
BELT_SLOPE_GAIN: Final = 1.064
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
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 12.91, 2.84),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 8.89, 3.56),
    ("arm_crossing", "across"): Correction(1.0, 0.61, 2.45),
    ("arm_direction", "across"): Correction(1.0, -3.26, 6.1),
    ("cadence", "any"): Correction(1.0, 0.0, 0.42),
    ("contact", "any"): Correction(1.0, 0.0, 7.57),
    ("contact_time", "far"): Correction(1.0, 3.14, 6.64),
    ("contact_time", "near"): Correction(1.0, 0.58, 7.08),
    ("flight_time", "far"): Correction(1.0, -4.28, 6.22),
    ("flight_time", "near"): Correction(1.0, 0.65, 9.09),
    ("hip_extension_peak", "far"): Correction(1.0, -2.33, 1.26),
    ("hip_extension_peak", "near"): Correction(1.0, -1.34, 2.15),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -2.48, 4.64),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -1.5, 1.96),
    ("knee_flexion_peak", "far"): Correction(1.0, 5.38, 3.12),
    ("knee_flexion_peak", "near"): Correction(1.0, -5.01, 1.5),
    ("pelvic_shift", "across"): Correction(0.832, 0.58, 0.36),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.74, 2.15),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.27, 1.67),
    ("step_length", "across"): Correction(1.0, 0.0, 2.43),
    ("step_length", "far"): Correction(1.0, 0.0, 1.82),
    ("step_length", "near"): Correction(1.0, 0.0, 1.92),
    ("step_width", "any"): Correction(1.0, -3.63, 1.6),
    ("strike_ahead", "far"): Correction(1.0, 12.8, 1.58),
    ("strike_ahead", "near"): Correction(1.0, 12.27, 1.29),
    ("toe_off", "any"): Correction(1.0, 0.0, 13.09),
    ("trunk_lean", "any"): Correction(0.994, 2.91, 1.47),
    ("trunk_side_lean", "across"): Correction(1.0, -0.08, 0.97),
    ("vertical_excursion", "any"): Correction(1.0, 0.04, 1.22),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any."""


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt."""
    return CORRECTIONS.get((name, place), Correction())
