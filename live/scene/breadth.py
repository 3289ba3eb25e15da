"""Whether a runner seen from behind or in front is as wide as runners are for their height (pure).

There the legs turn toward the camera, so that their length tells nothing of the pixels' shape
(``live/scene/proportions.py``). What is left is the build: shoulders and hips over trunk and leg.
People differ in it, so that only much can be told: by a third, not by a sixth.
"""

from __future__ import annotations

import math
from typing import Final

from shared.flow import Pose
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S

WIDEST, NARROWEST = 0.475, 0.361
"""Shoulders and hips together over trunk and leg, as the pose model sees them.

Drawn runners have 0.372 to 0.466 at any moment (98 of them, also moved by captured running, up to
11 degrees off); 14 of them in a picture made a third wider at least 0.483, three quarters as wide
at most 0.350: the model itself takes a third of it back. With each body, movement and kind of
clothes left out in turn the limits lie at 0.463 to 0.476 and 0.355 to 0.371. In people shoulder
width over stature spreads by some 5 % (SD; reckoned from surveys of both, from memory), of which
the model again takes some, so about one in a thousand is beyond them. Of pictures stretched by 15 %
4 of 28 are told: that lies within the spread of people's builds.
"""
MEMORY_NS: Final = 4 * NS_PER_S
ENOUGH: Final = 30.0
"""Frames; fewer say nothing yet."""
SLANT_MOST: Final = 0.11
"""How far the ankles swing sideways of the hips (standard deviation over leg), beyond which the
body is seen at a slant, and so narrower than it is: at most 0.074 in drawn runners up to 11 degrees
off, 0.21 and more in a real one from a third behind."""
LIFT_LEAST: Final = 0.06
"""How far the feet are lifted (the same of the ankles' difference in height): next to nothing in
somebody who stands."""


class Breadth:
    """Gets every pose in the order of capture."""

    def __init__(self) -> None:
        self._count = 0.0
        # Sums over frames, older ones counting less and less: widths, trunk, leg, and of the ankles
        # the way across and up.
        self._sums = [0.0] * 7
        self._last_ns: int | None = None

    def add(self, pose: Pose) -> None:
        """Take in one frame."""
        if self._last_ns is not None:
            share = math.exp((self._last_ns - pose.captured_ns) / MEMORY_NS)
            self._count *= share
            self._sums = [each * share for each in self._sums]
        self._last_ns = pose.captured_ns
        facts = _facts(pose)
        if facts is not None:
            self._count += 1.0
            self._sums = [each + fact for each, fact in zip(self._sums, facts, strict=True)]

    @property
    def over_height(self) -> float | None:
        """Shoulders and hips over trunk and leg; None while not known, or where nobody runs."""
        if self._count < ENOUGH:
            return None
        wide, trunk, leg, *_ = (each / self._count for each in self._sums)
        if trunk <= 0.0 or leg <= 0.0 or self.lift < LIFT_LEAST:
            return None
        return wide / (trunk + leg)

    @property
    def slant(self) -> float:
        """The ankles' way across, over leg; call once there is a frame."""
        across, square = self._sums[3] / self._count, self._sums[4] / self._count
        return math.sqrt(max(0.0, square - across * across)) / (self._sums[2] / self._count)

    @property
    def lift(self) -> float:
        """The ankles' difference in height, over leg; call once there is a frame."""
        up, square = self._sums[5] / self._count, self._sums[6] / self._count
        return math.sqrt(max(0.0, square - up * up)) / (self._sums[2] / self._count)

    @property
    def stretched(self) -> bool:
        """Whether the picture is surely squeezed or stretched by much; not asked from the side."""
        share = self.over_height
        if share is None:
            return False
        # No slant makes anybody wider.
        return share > WIDEST or (share < NARROWEST and self.slant <= SLANT_MOST)


def _facts(pose: Pose) -> tuple[float, ...] | None:
    # In plain numbers: numpy takes several times as long over so few.
    xy_px = pose.xy_px.tolist()
    left, right = xy_px[Lm.LEFT_HIP], xy_px[Lm.RIGHT_HIP]
    one, other = xy_px[Lm.LEFT_SHOULDER], xy_px[Lm.RIGHT_SHOULDER]
    ankle, far = xy_px[Lm.LEFT_ANKLE], xy_px[Lm.RIGHT_ANKLE]
    wide = math.dist(left, right) + math.dist(one, other)
    hips_x, hips_y = (left[0] + right[0]) / 2, (left[1] + right[1]) / 2
    trunk = hips_y - (one[1] + other[1]) / 2
    leg = max(ankle[1], far[1]) - hips_y
    across = ankle[0] - hips_x
    up = ankle[1] - far[1]
    facts = (wide, trunk, leg, across, across * across, up, up * up)
    return facts if math.isfinite(math.fsum(facts)) else None
