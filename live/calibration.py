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

BODY_LENGTH_GAIN: Final = 1.008
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one."""
BELT_SLOPE_GAIN: Final = 1.094
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
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 4.47, 1.71),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 3.08, 1.59),
    ("arm_crossing", "across"): Correction(1.058, 1.25, 2.72),
    ("arm_direction", "across"): Correction(1.0, -1.49, 12.78),
    ("contact", "across"): Correction(1.0, 0.0, 16.68),
    ("contact", "far"): Correction(1.0, 0.0, 4.69),
    ("contact", "near"): Correction(1.0, 0.0, 5.1),
    ("contact_time", "far"): Correction(1.0, 2.96, 11.65),
    ("contact_time", "near"): Correction(1.0, 6.55, 10.54),
    ("flight_time", "far"): Correction(1.0, -3.01, 11.17),
    ("flight_time", "near"): Correction(1.0, -6.46, 11.76),
    ("hip_extension_peak", "far"): Correction(1.0, -2.61, 2.35),
    ("hip_extension_peak", "near"): Correction(1.0, -1.54, 2.8),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -1.23, 4.73),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -2.06, 3.64),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.07, 4.49),
    ("knee_flexion_peak", "near"): Correction(1.0, -6.99, 4.26),
    ("pelvic_shift", "across"): Correction(0.785, 0.86, 0.51),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.21, 2.55),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.35, 2.56),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.29),
    ("step_time", "across"): Correction(1.0, 0.0, 6.86),
    ("step_time", "far"): Correction(1.0, 0.0, 5.08),
    ("step_time", "near"): Correction(1.0, 0.0, 5.3),
    ("step_width", "any"): Correction(1.0, -3.98, 1.27),
    ("steps_span", "any"): Correction(1.0, 0.0, 5.08),
    ("strike_ahead", "far"): Correction(0.801, 7.3, 2.02),
    ("strike_ahead", "near"): Correction(0.801, 7.3, 1.84),
    ("toe_off", "across"): Correction(1.0, 0.0, 26.89),
    ("toe_off", "far"): Correction(1.0, 0.0, 11.45),
    ("toe_off", "near"): Correction(1.0, 0.0, 11.17),
    ("trunk_lean", "any"): Correction(0.92, 3.65, 1.65),
    ("trunk_side_lean", "across"): Correction(1.0, -0.26, 1.04),
    ("vertical_excursion", "any"): Correction(1.0, 0.16, 1.34),
}
"""By measure and which leg it is to the camera: near, far (side view), across, or any.

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
