"""How fast the belt goes in the picture: by the standing foot's landmarks, and by the shoe itself.

Landmarks slide along a foot as it rolls, and differently on every shoe, so a speed read from them
alone errs by 2 %, now and then by 6. The shoe's own pixels do not slide: for as long as it stands
flat, the way from picture to picture is the belt's. Where that can be seen it is believed, and the
landmarks only say where and about how far to look.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import cos, pi, radians, sin
from statistics import median
from typing import Final

import numpy as np

from live.measures.calibration import BELT_SLOPE_GAIN, BELT_SPEED_SD, SHOE_SPEED_GAIN, SHOE_SPEED_SD
from live.measures.events import ANKLE, HEEL, TOE, EventPhases
from live.scene.camera_placement import side_yaw_deg
from live.stride.fourier import TWO_PI
from live.stride.mean_stride import MeanStride
from live.stride.sample import Sample
from shared.flow import FloatArray, Side
from shared.units import NS_PER_S

FLAT_FROM: Final = 0.0
FLAT_TO: Final = 0.75
"""Part of stance in which the landmarks move with the belt, before the foot rolls over the toes."""
SHOE_FROM: Final = 0.1
SHOE_TO: Final = 0.5
"""Part of stance in which a shoe's own pixels do so: the heel may leave the belt after it."""
LONGEST_PAIR_S: Final = 0.07
"""Between two pictures that are laid over each other; at 15 a second they just are."""
MOST_YAW_DEG: Final = 20.0
"""The camera check asks for no more."""
DISTANCE_STATURES: Final = 2.1
"""From camera to runner: 3.6 m. The camera check asks for a body that fills the picture, and
lenses differ; a quarter more or less moves a speed by 0.4 % at the most."""
BELIEVED: Final = 0.08
"""Further from the landmarks' speed than this share, what was taken for the shoe was not it."""
_STANCE_LOOKS: Final = 24
_STRIDES: Final = 12
_FEWEST: Final = 3
_UNSEEN: Final = 12
"""After so many learnings of the stride, six strides, without it a shoe says nothing any more: the
belt may be going at another speed."""
_ANEW, _CHANGED = 4, 0.06
"""So many strides, all further off than this share, are another belt speed."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a standing shoe was in the picture before, and how far it should have gone since."""

    side: Side
    before_ns: int
    now_ns: int
    """Stamps of the two pictures."""
    x_px: float
    y_px: float
    """Middle of the shoe in the picture before."""
    length_px: float
    """Heel to toes."""
    way_px: float
    """Expected, + to the right."""
    ahead_px: float
    """How far the shoe is ahead of the hips, halfway between the two, + forward."""


@dataclass(frozen=True, slots=True)
class BeltReading:
    """The belt's speed in statures of the runner a second, and its SD as a share of it."""

    statures_per_s: float
    sd: float


class SteadyPace:
    """One reading of the belt's speed a stride, steady over strides.

    Each stride's reading errs by some 2 %, a poor one by far more; the belt goes on evenly.
    """

    def __init__(self) -> None:
        self._last: deque[float] = deque(maxlen=_STRIDES)

    def __len__(self) -> int:
        return len(self._last)

    def add(self, pace: float) -> float:
        """The middle one of the last strides, with this one's reading.

        Where the last few say that the belt has been set anew, those before are forgotten.
        """
        self._last.append(pace)
        newest, middle = list(self._last)[-_ANEW:], self.middle
        faster = all(one > middle * (1.0 + _CHANGED) for one in newest)
        slower = all(one < middle * (1.0 - _CHANGED) for one in newest)
        if faster or slower:
            self._last.clear()
            self._last.extend(newest)
        return self.middle

    @property
    def middle(self) -> float:
        """The middle one of the last strides."""
        return median(self._last)


@dataclass(slots=True)
class _Stance:
    """What was seen of one shoe since the stride was last learnt."""

    way_px: float = 0.0
    s: float = 0.0
    ahead_px_s: float = 0.0


class BeltPace:
    """The belt's speed by landmarks and by shoes, over the last strides (side view)."""

    def __init__(self) -> None:
        self._landmarks = SteadyPace()
        self._shoes = {side: SteadyPace() for side in Side}
        self._stances = {side: _Stance() for side in Side}
        self._unseen = dict.fromkeys(Side, 0)
        self.apparent_px_s = 0.0
        """By landmarks, as it looks in the picture; 0 until the stride is known."""

    def went(self, spot: Spot, way_px: float) -> None:
        """Take in how far the shoe at this spot has gone, + to the right."""
        stance, s = self._stances[spot.side], (spot.now_ns - spot.before_ns) / NS_PER_S
        stance.way_px += abs(way_px)
        stance.s += s
        stance.ahead_px_s += spot.ahead_px * s

    def renew(
        self, mean: MeanStride, phases: EventPhases, trunk_px: float, stature_px: float
    ) -> BeltReading:
        """The belt's speed now that the stride was learnt anew; call once each time."""
        yaw_deg = side_yaw_deg(mean.all_round, trunk_px)
        back = [stance_speed_px(mean, phases, side) for side in Side]
        self.apparent_px_s = BELT_SLOPE_GAIN * float(np.mean(back))
        # The landmarks are read for longer, over a stretch that lies about the hips.
        by_landmarks = self._landmarks.add(
            along_belt(self.apparent_px_s / stature_px, 0.0, yaw_deg)
        )
        for side, stance in self._stances.items():
            if stance.s > 0.0:
                speed, ahead = stance.way_px / stance.s, stance.ahead_px_s / stance.s
                pace = along_belt(speed / stature_px, ahead / stature_px, yaw_deg)
                self._shoes[side].add(pace)
            self._unseen[side] = 0 if stance.s > 0.0 else self._unseen[side] + 1
            if self._unseen[side] >= _UNSEEN:
                self._shoes[side] = SteadyPace()
            self._stances[side] = _Stance()
        if all(len(pace) >= _FEWEST for pace in self._shoes.values()):
            middles = [pace.middle for pace in self._shoes.values()]
            by_shoes = SHOE_SPEED_GAIN * sum(middles) / len(middles)
            if abs(by_shoes / by_landmarks - 1.0) <= BELIEVED:
                return BeltReading(by_shoes, SHOE_SPEED_SD)
        return BeltReading(by_landmarks, BELT_SPEED_SD)


def along_belt(apparent: float, ahead: float, yaw_deg: float) -> float:
    """A speed along the belt from what it looks like; all lengths in statures.

    Seen from a camera that is turned by 15 degrees around the runner it looks 3 % less; and what
    is ``ahead`` of the hips is nearer to a camera that is turned toward the runner's front
    (``yaw_deg`` +), so that it looks more there. Up to ``MOST_YAW_DEG``: further round a poor
    reading would do more harm than good.
    """
    yaw_rad = radians(min(max(yaw_deg, -MOST_YAW_DEG), MOST_YAW_DEG))
    short = cos(yaw_rad)
    nearer = 1.0 + 2.0 * ahead / short * sin(yaw_rad) / DISTANCE_STATURES
    return apparent / short / nearer


def stance_speed_px(mean: MeanStride, phases: EventPhases, side: Side) -> float:
    """How fast the standing foot's landmarks go back in the picture, px/s, + (side view).

    The line that fits ankle and heel best over most of stance: two instants alone hang on where
    contact and roll are told to be, and the toe's landmark slides as the foot rolls.
    """
    span = (phases.toe_off[side] - phases.contact[side]) % TWO_PI
    part = np.linspace(FLAT_FROM, FLAT_TO, _STANCE_LOOKS)
    theta = phases.contact[side] + span * part
    x = mean.at(theta)[:, [ANKLE[side], HEEL[side]], 0].mean(axis=1) + mean.root_at(theta)[:, 0]
    seconds = (part - part.mean()) * span / (TWO_PI * mean.rate_hz)
    return abs(float(seconds @ x)) / float(seconds @ seconds)


def find_spot(
    mean: MeanStride,
    phases: EventPhases,
    forward: float,
    before: Sample,
    now: Sample,
    apparent_px_s: float,
) -> Spot | None:
    """Which shoe stood flat in both of two frames, and where; None when none did (side view).

    The landmarks of feet that pass each other are poor, so the shoe's place is taken from its mean
    place early in stance, and goes on with the belt from there.
    """
    span_s = (now.captured_ns - before.captured_ns) / NS_PER_S
    if span_s > LONGEST_PAIR_S or apparent_px_s <= 0.0:
        return None
    for side in Side:
        stance = (phases.toe_off[side] - phases.contact[side]) % TWO_PI
        first = phases.contact[side] + SHOE_FROM * stance
        since = (before.theta - first + pi) % TWO_PI - pi
        if since < 0.0 or since + now.theta - before.theta > (SHOE_TO - SHOE_FROM) * stance:
            continue
        body = mean.at(np.array([first]))[0]
        heel, toe = body[HEEL[side]], body[TOE[side]]
        place: FloatArray = (heel + toe) / 2.0 + before.root
        # Early in stance the hips were elsewhere than they are now.
        moved = mean.root_at(np.array([first, before.theta]))
        place = place + moved[0] - moved[1]
        px_s = -forward * apparent_px_s
        x_px = float(place[0]) + px_s * since / (TWO_PI * mean.rate_hz)
        way_px = px_s * span_s
        return Spot(
            side=side,
            before_ns=before.captured_ns,
            now_ns=now.captured_ns,
            x_px=x_px,
            y_px=float(place[1]),
            length_px=float(np.linalg.norm(toe - heel)),
            way_px=way_px,
            ahead_px=forward * (x_px + way_px / 2.0 - float(before.root[0] + now.root[0]) / 2.0),
        )
    return None
