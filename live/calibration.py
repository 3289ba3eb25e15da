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

BODY_LENGTH_GAIN: Final = {View.BEHIND: 1.063, View.FRONT: 1.038, View.SIDE: 1.000}
"""True hip-to-ankle plus hip-to-shoulder length over the landmarks' one, by view."""
BELT_SLOPE_GAIN: Final = 1.080
"""True speed of the standing foot over the landmarks' one."""
BELT_SPEED_SD: Final = 0.02
"""SD of the belt speed read from the landmarks, as a share of it."""
SHOE_SPEED_GAIN: Final = 1.0
"""True speed of the belt over that of the shoes' pixels; the far shoe is further than the hips."""
SHOE_SPEED_SD: Final = 0.02
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
CORRECTIONS: Final[dict[tuple[str, str], Correction]] = {
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 4.42, 1.64),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 3.22, 1.59),
    ("arm_crossing", "across"): Correction(1.058, 1.25, 2.72),
    ("arm_direction", "across"): Correction(1.0, 1.09, 11.43),
    ("contact", "across"): Correction(1.0, 0.0, 14.53),
    ("contact", "far"): Correction(1.0, 0.0, 5.47),
    ("contact", "near"): Correction(1.0, 0.0, 5.49),
    ("contact_time", "far"): Correction(1.0, 4.97, 11.47),
    ("contact_time", "near"): Correction(1.0, 7.31, 11.42),
    ("flight_time", "far"): Correction(1.0, -4.66, 12.16),
    ("flight_time", "near"): Correction(1.0, -7.59, 11.56),
    ("hip_extension_peak", "far"): Correction(1.0, -2.14, 2.81),
    ("hip_extension_peak", "near"): Correction(1.0, -1.05, 2.97),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -1.85, 4.5),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -2.36, 3.82),
    ("knee_flexion_peak", "far"): Correction(1.0, 5.82, 4.09),
    ("knee_flexion_peak", "near"): Correction(1.0, -7.15, 4.08),
    ("pelvic_shift", "across"): Correction(0.866, 0.85, 0.52),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.62, 2.38),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.59, 2.46),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.1),
    ("step_time", "across"): Correction(1.0, 0.0, 7.76),
    ("step_time", "far"): Correction(1.0, 0.0, 4.91),
    ("step_time", "near"): Correction(1.0, 0.0, 4.93),
    ("step_width", "any"): Correction(1.0, -3.77, 1.46),
    ("steps_span", "any"): Correction(1.0, 0.0, 5.58),
    ("strike_ahead", "far"): Correction(0.756, 8.1, 2.02),
    ("strike_ahead", "near"): Correction(0.756, 8.1, 1.72),
    ("toe_off", "across"): Correction(1.0, 0.0, 24.06),
    ("toe_off", "far"): Correction(1.0, 0.0, 11.13),
    ("toe_off", "near"): Correction(1.0, 0.0, 11.91),
    ("trunk_lean", "any"): Correction(0.891, 3.78, 1.47),
    ("trunk_side_lean", "across"): Correction(1.0, -0.31, 1.12),
    ("vertical_excursion", "any"): Correction(1.0, 0.25, 1.39),
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
