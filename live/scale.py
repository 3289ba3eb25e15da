"""Pixels to metres: from body height, and from the belt's speed under the standing foot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from live.calibration import BELT_SLOPE_GAIN, BODY_LENGTH_GAIN
from live.contact import PHASES
from live.gait import ANKLE, EventPhases
from live.stride import TWO_PI, MeanStride
from shared.landmarks import Landmark as Lm
from shared.records import Side

LEG_OF_HEIGHT: Final = 0.491
"""Hip to ankle over stature: .245 thigh + .246 shank (Drillis and Contini; Winter Fig. 4.1)."""
TRUNK_OF_HEIGHT: Final = 0.288
"""Hip to shoulder over stature, same table."""
LEG_TO_FLOOR_OF_HEIGHT: Final = 0.530
"""Hip height over stature, same table: what "% of leg length" means."""
AGREE: Final = 0.08
"""The two ways to the scale must agree this closely."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Pixels per metre, by what it was learnt from; None where it is not known."""

    by_height: float | None
    by_belt: dict[Side, float] | None
    """At each foot's own depth; side view with a known belt speed."""
    leg_to_floor_px: float
    """Hip height in the picture: the length behind "% of leg length"."""
    belt_speed_mps: float | None
    """As typed in, else estimated from the picture (side view with a known height)."""

    @property
    def px_per_m(self) -> float | None:
        """The best scale at the runner's middle."""
        if self.by_belt is not None:
            return float(np.mean(list(self.by_belt.values())))
        return self.by_height

    @property
    def disagreement(self) -> float | None:
        """Belt's scale over height's scale less 1; None unless both are known."""
        if self.by_belt is None or self.by_height is None or self.px_per_m is None:
            return None
        return self.px_per_m / self.by_height - 1.0

    def at_foot(self, side: Side) -> float | None:
        """The scale at one foot's depth, else the middle's."""
        return self.px_per_m if self.by_belt is None else self.by_belt[side]


def body_px(mean: MeanStride, leg_px: float) -> float:
    """Hip to ankle plus hip to shoulder, px."""
    curves = mean.at(PHASES)
    shoulders = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    return leg_px + float(np.median(np.linalg.norm(shoulders, axis=1)))


def stance_speed_px(mean: MeanStride, phases: EventPhases, side: Side) -> float:
    """How fast the standing foot goes back in the picture, px/s, + (side view).

    A straight line through the ankle from a fifth to just over half of stance, while the
    foot lies flat.
    """
    span = (phases.toe_off[side] - phases.contact[side]) % TWO_PI
    part = np.linspace(0.20, 0.55, 12)
    theta = phases.contact[side] + span * part
    x = mean.at(theta)[:, ANKLE[side], 0] + mean.root_at(theta)[:, 0]
    seconds = span * part / (TWO_PI * mean.rate_hz)
    return abs(float(np.polyfit(seconds, x, 1)[0]))


def find_scale(
    mean: MeanStride,
    phases: EventPhases,
    leg_px: float,
    height_m: float | None,
    belt_speed_mps: float | None,
    from_side: bool,
) -> Scale:
    """Bring together what is known of the scale."""
    length = body_px(mean, leg_px) * BODY_LENGTH_GAIN
    stature_px = length / (LEG_OF_HEIGHT + TRUNK_OF_HEIGHT)
    by_height = None if height_m is None else stature_px / height_m
    by_belt = None
    speed = belt_speed_mps
    if from_side:
        back = {side: BELT_SLOPE_GAIN * stance_speed_px(mean, phases, side) for side in Side}
        if belt_speed_mps is not None and belt_speed_mps > 0:
            by_belt = {side: back[side] / belt_speed_mps for side in Side}
        elif by_height is not None:
            speed = float(np.mean(list(back.values()))) / by_height
    return Scale(
        by_height=by_height,
        by_belt=by_belt,
        leg_to_floor_px=LEG_TO_FLOOR_OF_HEIGHT * stature_px,
        belt_speed_mps=speed,
    )
