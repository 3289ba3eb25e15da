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

BODY_LENGTH_GAIN: Final = 1.011
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
    ("ankle_dorsiflexion_peak", "far"): Correction(1.0, 4.55, 1.2),
    ("ankle_dorsiflexion_peak", "near"): Correction(1.0, 3.36, 1.64),
    ("arm_crossing", "across"): Correction(1.058, 1.25, 2.72),
    ("arm_direction", "across"): Correction(1.0, 0.06, 11.14),
    ("contact", "across"): Correction(1.0, 0.0, 7.95),
    ("contact", "far"): Correction(1.0, 0.0, 4.59),
    ("contact", "near"): Correction(1.0, 0.0, 5.24),
    ("contact_time", "far"): Correction(1.0, 0.89, 8.13),
    ("contact_time", "near"): Correction(1.0, 3.96, 9.07),
    ("flight_time", "far"): Correction(1.0, -1.41, 8.6),
    ("flight_time", "near"): Correction(1.0, -3.4, 9.92),
    ("hip_extension_peak", "far"): Correction(1.0, -3.13, 2.03),
    ("hip_extension_peak", "near"): Correction(1.0, -1.73, 2.27),
    ("knee_flexion_at_contact", "far"): Correction(1.0, -1.84, 4.47),
    ("knee_flexion_at_contact", "near"): Correction(1.0, -2.14, 3.47),
    ("knee_flexion_peak", "far"): Correction(1.0, 6.8, 3.66),
    ("knee_flexion_peak", "near"): Correction(1.0, -5.08, 2.92),
    ("pelvic_shift", "across"): Correction(0.721, 0.81, 0.47),
    ("shank_angle_at_contact", "far"): Correction(1.0, 2.47, 2.43),
    ("shank_angle_at_contact", "near"): Correction(1.0, 2.67, 2.19),
    ("step_asymmetry", "any"): Correction(1.0, 0.0, 1.56),
    ("step_time", "across"): Correction(1.0, 0.0, 6.26),
    ("step_time", "far"): Correction(1.0, 0.0, 4.92),
    ("step_time", "near"): Correction(1.0, 0.0, 5.09),
    ("step_width", "any"): Correction(1.0, -4.08, 1.6),
    ("steps_span", "any"): Correction(1.0, 0.0, 4.96),
    ("strike_ahead", "far"): Correction(0.857, 5.97, 1.56),
    ("strike_ahead", "near"): Correction(0.857, 5.97, 1.32),
    ("toe_off", "across"): Correction(1.0, 0.0, 26.59),
    ("toe_off", "far"): Correction(1.0, 0.0, 8.55),
    ("toe_off", "near"): Correction(1.0, 0.0, 9.57),
    ("trunk_lean", "any"): Correction(1.02, 3.44, 1.46),
    ("trunk_side_lean", "across"): Correction(1.0, -0.18, 0.76),
    ("vertical_excursion", "any"): Correction(1.0, 0.13, 1.42),
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
