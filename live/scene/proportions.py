"""Whether the picture shows the body as it is: upright, and as high as it is wide (pure).

Thigh and shank keep their length while they turn. In a picture that is squeezed or stretched they
do not: what they lose in height as they swing is not what they gain across. By how much tells the
pixels' shape, whoever runs and however tall, from the side, where they turn in the picture's plane.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from shared.flow import Pose
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S

WIDEST, NARROWEST = 1.17, 0.86
"""A pixel's true width over its height beyond which the picture is not as it should be. Drawn
runners from the side, also turned and at a slant, have 0.88 to 1.14 at any moment (133 of them),
real ones, as captured, 0.97 to 0.99 (3); the same squeezed by 4:3 at least 1.19, stretched 0.85 at
most."""
MEMORY_NS: Final = 4 * NS_PER_S
ENOUGH: Final = 40.0
"""Frames; fewer say nothing yet."""
TURNS_LEAST: Final = 0.005
"""How much the squared share across must vary for the leg to be said to turn: 0.03 to 0.07 in
runners; next to nothing in somebody who stands."""
GOES_WITH_LEAST: Final = 0.5
"""Share of the height's changes that the width must explain, or the legs are not followed well
enough to tell: 0.67 and more in the drawn runners, 0.29 and less with 10 px of noise on each."""
LEANS_MOST_DEG: Final = 50.0
"""No runner leans more than some 30 degrees (common practice, no source)."""
_LIMBS: Final = (
    ((Lm.LEFT_HIP, Lm.LEFT_KNEE), (Lm.RIGHT_HIP, Lm.RIGHT_KNEE)),
    ((Lm.LEFT_KNEE, Lm.LEFT_ANKLE), (Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE)),
)


@dataclass(slots=True)
class _Sums:
    """Of squared widths and heights of one kind of limb, older frames counting less and less."""

    count: float = 0.0
    wide: float = 0.0
    high: float = 0.0
    wide_wide: float = 0.0
    high_high: float = 0.0
    wide_high: float = 0.0

    def fade(self, share: float) -> None:
        self.count *= share
        self.wide *= share
        self.high *= share
        self.wide_wide *= share
        self.high_high *= share
        self.wide_high *= share

    def add(self, wide: float, high: float) -> None:
        self.count += 1.0
        self.wide += wide
        self.high += high
        self.wide_wide += wide * wide
        self.high_high += high * high
        self.wide_high += wide * high

    def spread(self) -> tuple[float, float, float]:
        """How the squared width varies, the squared height, and the two together."""
        wide, high = self.wide / self.count, self.high / self.count
        return (
            self.wide_wide - wide * self.wide,
            self.high_high - high * self.high,
            self.wide_high - wide * self.high,
        )


class Proportions:
    """Gets every pose in the order of capture."""

    def __init__(self) -> None:
        self._sums = tuple(_Sums() for _ in _LIMBS)
        self._last_ns: int | None = None
        self._unit_px = 0.0

    def add(self, pose: Pose) -> None:
        """Take in one frame."""
        if self._last_ns is not None:
            share = math.exp((self._last_ns - pose.captured_ns) / MEMORY_NS)
            for sums in self._sums:
                sums.fade(share)
        self._last_ns = pose.captured_ns
        # In plain numbers: numpy takes several times as long over so few.
        xy_px = pose.xy_px.tolist()
        if not self._unit_px:
            first = math.dist(xy_px[Lm.LEFT_HIP], xy_px[Lm.LEFT_KNEE])
            self._unit_px = first if math.isfinite(first) and first > 1.0 else 0.0
        if not self._unit_px:
            return
        for sums, limbs in zip(self._sums, _LIMBS, strict=True):
            for one, other in limbs:
                wide = (xy_px[other][0] - xy_px[one][0]) / self._unit_px
                high = (xy_px[other][1] - xy_px[one][1]) / self._unit_px
                if math.isfinite(wide + high):
                    sums.add(wide * wide, high * high)

    @property
    def pixel_shape(self) -> float | None:
        """A pixel's true width over its height, 1 in a good picture; None while not known."""
        if any(sums.count < 2 * ENOUGH for sums in self._sums):
            return None
        spreads = [sums.spread() for sums in self._sums]
        wide, high, both = (math.fsum(each) for each in zip(*spreads, strict=True))
        count = math.fsum(sums.count for sums in self._sums)
        length = math.fsum(sums.wide + sums.high for sums in self._sums) / count
        if length <= 0.0 or wide / count < TURNS_LEAST * length * length:
            return None
        if both >= 0.0 or both * both < GOES_WITH_LEAST * wide * high:
            return None
        return math.sqrt(-both / wide)

    @property
    def stretched(self) -> bool:
        """Whether the picture is surely squeezed or stretched; asked of a view from the side."""
        shape = self.pixel_shape
        return shape is not None and not NARROWEST <= shape <= WIDEST


def is_upright(pose: Pose) -> bool:
    """False where the trunk lies or stands on its head in the picture; True if unknown."""
    xy_px = pose.xy_px
    up_x, up_y = (
        xy_px[Lm.LEFT_SHOULDER]
        + xy_px[Lm.RIGHT_SHOULDER]
        - xy_px[Lm.LEFT_HIP]
        - xy_px[Lm.RIGHT_HIP]
    ).tolist()
    if not math.isfinite(up_x + up_y) or (up_x == 0.0 and up_y == 0.0):
        return True
    return math.degrees(abs(math.atan2(up_x, -up_y))) <= LEANS_MOST_DEG
