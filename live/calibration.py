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
BELT_SLOPE_GAIN: Final = 1.093
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.03
"""SD of the belt speed read from the picture, as a share of it."""


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
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 13.26, 2.58),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 10.22, 4.16),
    ("arm_crossing", "across"): Correction(1.058, 1.25, 2.72),
    ("arm_direction", "across"): Correction(1.0, -0.92, 8.04),
    ("cadence", "any"): Correction(1.0, 0.0, 0.43),
    ("contact", "any"): Correction(1.0, 0.0, 7.26),
    ("contact_time", "far"): Correction(1.0, 1.93, 8.42),
    ("contact_time", "near"): Correction(1.0, 4.21, 8.03),
    ("flight_time", "far"): Correction(1.0, -1.91, 7.66),
    ("flight_time", "near"): Correction(1.0, -4.22, 9.47),
    ("hip_extension_peak", "far"): Correction(1.0, -3.03, 2.03),
    ("hip_extension_peak", "near"): Correction(1.0, -1.83, 2.23),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -2.2, 4.14),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -1.33, 2.54),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.54, 3.44),
    ("knee_flexion_peak", "near"): Correction(1.0, -5.02, 2.86),
    ("pelvic_shift", "across"): Correction(0.738, 0.79, 0.45),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.76, 2.19),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.19, 2.03),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.86),
    ("step_length", "across"): Correction(1.0, 0.0, 2.6),
    ("step_length", "far"): Correction(1.0, 0.0, 1.76),
    ("step_length", "near"): Correction(1.0, 0.0, 1.8),
    ("step_width", "any"): Correction(1.0, -4.05, 1.54),
    ("strike_ahead", "any"): Correction(0.861, 5.88, 1.46),
    ("toe_off", "any"): Correction(1.0, 0.0, 22.88),
    ("trunk_lean", "any"): Correction(1.016, 3.24, 1.35),
    ("trunk_side_lean", "across"): Correction(1.0, -0.17, 0.87),
    ("vertical_excursion", "any"): Correction(1.0, 0.19, 1.33),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any."""


def correction(name: str, place: str) -> Correction:
    """The correction for a measure; the plain one where none was learnt."""
    return CORRECTIONS.get((name, place), Correction())
