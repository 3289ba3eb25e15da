"""Pixels to metres: from body height, and from the belt's speed under the standing foot."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from live.measures.belt_speed import BeltPace
from live.measures.calibration import BODY_LENGTH_GAIN
from live.measures.events import EventPhases
from live.stride.mean_stride import MeanStride
from shared.flow import View
from shared.landmarks import Landmark as Lm

LEG_OF_HEIGHT: Final = 0.491
"""Hip to ankle over stature: .245 thigh + .246 shank (Drillis and Contini; Winter Fig. 4.1)."""
TRUNK_OF_HEIGHT: Final = 0.288
"""Hip to shoulder over stature, same table."""
LEG_TO_FLOOR_OF_HEIGHT: Final = 0.530
"""Hip height over stature, same table: what "% of leg length" means."""
TYPICAL_HEIGHT_M: Final = 1.72
"""Stands in where no height was typed and a length in metres is needed inside; common practice, no
source."""
AGREE: Final = 0.08
"""The two ways to the scale must agree this closely, or the user is told."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Pixels per metre at the runner, by what it was learnt from; None where not known."""

    by_height: float | None
    by_belt: float | None
    """From a typed belt speed and the standing feet; side view only."""
    leg_to_floor_px: float
    """Hip height in the picture: the length behind "% of leg length"."""
    belt_speed_mps: float | None
    """Estimated from the picture (side view with a known height)."""
    belt_speed_sd: float = 0.0
    """SD of that, as a share of it."""

    @property
    def px_per_m(self) -> float | None:
        """The better of the two: landmarks place a body's length more surely than its feet."""
        return self.by_belt if self.by_height is None else self.by_height

    @property
    def disagreement(self) -> float | None:
        """Belt's scale over height's scale less 1; None unless both are known."""
        if self.by_belt is None or self.by_height is None:
            return None
        return self.by_belt / self.by_height - 1.0

    @property
    def doubtful(self) -> bool:
        """True when the two ways to the scale contradict each other."""
        return self.disagreement is not None and abs(self.disagreement) > AGREE


def trunk_length_px(mean: MeanStride) -> float:
    """Hip to shoulder."""
    curves = mean.all_round
    shoulders = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    return float(np.median(np.linalg.norm(shoulders, axis=1)))


def stature_px(mean: MeanStride, leg_px: float, view: View) -> float:
    """How tall the runner is in the picture, by the lengths of leg and trunk."""
    length = (leg_px + trunk_length_px(mean)) * BODY_LENGTH_GAIN[view]
    return length / (LEG_OF_HEIGHT + TRUNK_OF_HEIGHT)


def find_scale(
    mean: MeanStride,
    phases: EventPhases,
    leg_px: float,
    height_m: float | None,
    belt_speed_mps: float | None,
    view: View,
    pace: BeltPace,
    long_legs: float = 1.0,
) -> Scale:
    """Bring together what is known of the scale, once a stride.

    ``pace`` takes in this stride and remembers those before (side view only). ``long_legs`` is the
    leg's length against a typical body's, where standing has shown it.
    """
    tall_px = stature_px(mean, leg_px, view)
    by_height = None if height_m is None else tall_px / height_m
    by_belt = speed = None
    sd = 0.0
    if view is View.SIDE:
        reading = pace.renew(mean, phases, trunk_length_px(mean), tall_px)
        sd = reading.sd
        if belt_speed_mps is not None and belt_speed_mps > 0:
            by_belt = reading.statures_per_s * tall_px / belt_speed_mps
        if height_m is not None:
            speed = reading.statures_per_s * height_m
    return Scale(
        by_height=by_height,
        by_belt=by_belt,
        leg_to_floor_px=LEG_TO_FLOOR_OF_HEIGHT * tall_px * long_legs,
        belt_speed_mps=speed,
        belt_speed_sd=sd,
    )
