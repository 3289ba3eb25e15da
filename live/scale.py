"""Pixels to metres: from body height, and from the belt's speed under the standing foot."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import cos, radians
from statistics import median
from typing import Final

import numpy as np

from live.calibration import BELT_SLOPE_GAIN, BODY_LENGTH_GAIN
from live.gait import ANKLE, HEEL, EventPhases
from live.harmonics import TWO_PI
from live.meanstride import MeanStride
from live.placing import side_yaw_deg
from shared.landmarks import Landmark as Lm
from shared.records import Side, View

LEG_OF_HEIGHT: Final = 0.491
"""Hip to ankle over stature: .245 thigh + .246 shank (Drillis and Contini; Winter Fig. 4.1)."""
TRUNK_OF_HEIGHT: Final = 0.288
"""Hip to shoulder over stature, same table."""
LEG_TO_FLOOR_OF_HEIGHT: Final = 0.530
"""Hip height over stature, same table: what "% of leg length" means."""
FLAT_FROM: Final = 0.0
FLAT_TO: Final = 0.75
"""Part of stance in which the foot moves with the belt, before it rolls over the toes."""
_STANCE_LOOKS: Final = 24
_PACE_STRIDES: Final = 12
_ANEW, _CHANGED = 4, 0.06
"""So many strides, all further off than this share, are another belt speed."""
MOST_YAW_DEG: Final = 20.0
"""The camera check asks for no more."""
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


def shortening(mean: MeanStride, trunk_px: float) -> float:
    """By how much a way along the belt looks shorter from the side than one across the view.

    A camera that is turned by 15 degrees around the runner sees 3 % less of it. Up to
    ``MOST_YAW_DEG``: further round a poor reading would do more harm than good.
    """
    yaw_deg = side_yaw_deg(mean.all_round, trunk_px)
    return cos(radians(min(abs(yaw_deg), MOST_YAW_DEG)))


def stance_speed_px(mean: MeanStride, phases: EventPhases, side: Side) -> float:
    """How fast the standing foot goes back in the picture, px/s, + (side view).

    The line that fits ankle and heel best over most of stance: two instants alone hang on where
    contact and roll are told to be, and the toe's landmark slides as the foot rolls.
    """
    span = (phases.toe_off[side] - phases.contact[side]) % TWO_PI
    part = np.linspace(FLAT_FROM, FLAT_TO, _STANCE_LOOKS)
    theta = phases.contact[side] + span * part
    x = mean.at(theta)[:, [ANKLE[side], HEEL[side]], 0].mean(axis=1) + mean.root_at(theta)[:, 0]
    seconds = (part - part.mean()) * span / (TWO_PI * mean.rate_hz)
    return abs(float(seconds @ x)) / float(seconds @ seconds)


class BeltPace:
    """The standing foot's speed against the body's size, steady over strides.

    Each stride's reading errs by some 2 %, a poor one by far more; the belt goes on evenly.
    """

    def __init__(self) -> None:
        self._last: deque[float] = deque(maxlen=_PACE_STRIDES)

    def add(self, pace: float) -> float:
        """The middle one of the last strides, with this one's reading.

        Where the last few say that the belt has been set anew, those before are forgotten.
        """
        self._last.append(pace)
        newest, middle = list(self._last)[-_ANEW:], median(self._last)
        faster = all(one > middle * (1.0 + _CHANGED) for one in newest)
        slower = all(one < middle * (1.0 - _CHANGED) for one in newest)
        if faster or slower:
            self._last.clear()
            self._last.extend(newest)
        return median(self._last)


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
    trunk_px = trunk_length_px(mean)
    length = (leg_px + trunk_px) * BODY_LENGTH_GAIN[view]
    stature_px = length / (LEG_OF_HEIGHT + TRUNK_OF_HEIGHT)
    by_height = None if height_m is None else stature_px / height_m
    by_belt = speed = None
    if view is View.SIDE:
        back = [stance_speed_px(mean, phases, side) for side in Side]
        back_px = float(np.mean(back)) / shortening(mean, trunk_px)
        statures = BELT_SLOPE_GAIN * back_px / stature_px
        back_px = pace.add(statures) * stature_px
        if belt_speed_mps is not None and belt_speed_mps > 0:
            by_belt = back_px / belt_speed_mps
        if by_height is not None:
            speed = back_px / by_height
    return Scale(
        by_height=by_height,
        by_belt=by_belt,
        leg_to_floor_px=LEG_TO_FLOOR_OF_HEIGHT * stature_px * long_legs,
        belt_speed_mps=speed,
    )
