"""What one pose says of the whole body: hand over the head, hips down, place on the belt (pure)."""

from __future__ import annotations

import math
from bisect import bisect_left, insort
from collections import deque
from typing import Final

import numpy as np

from live.scene.geometry import trunk_px
from shared.flow import Pose, View
from shared.landmarks import Landmark as Lm

OVER_HEAD: Final = 0.1
"""A raised wrist lies this far, in trunk lengths, over the nose and both ears at least. A trunk is
.288 of stature (Drillis and Contini), so this is 5 cm; the far hand seems lower than it is."""
OVER_SHOULDER: Final = 0.7
"""And this far over its own shoulder: upper arm and forearm are 1.15 trunk lengths long (.186 and
.146 of stature, same table). An arm that wipes the brow or turns a cap is bent far more."""
OVER_FRAMES: Final = 150
"""The leg's length and the hips' height in the picture are learnt over about 5 s."""
NEEDED_FRAMES: Final = 15
LEG_QUANTILE: Final = 80.0
"""The leg is foreshortened in most of a stride; its full length is seen in the rest."""
_HEAD: Final = [Lm.NOSE, Lm.LEFT_EAR, Lm.RIGHT_EAR]
_LEGS: Final = (
    (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE),
    (Lm.RIGHT_HIP, Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE),
)
_ARMS: Final = (
    (Lm.LEFT_SHOULDER, Lm.LEFT_ELBOW, Lm.LEFT_WRIST),
    (Lm.RIGHT_SHOULDER, Lm.RIGHT_ELBOW, Lm.RIGHT_WRIST),
)


class _Recent:
    """The newest OVER_FRAMES values, kept in order of size too: asked for at every frame."""

    def __init__(self) -> None:
        self._values: deque[float] = deque()
        self._sorted: list[float] = []

    def __len__(self) -> int:
        return len(self._values)

    def add(self, value: float) -> None:
        """One more; the oldest goes."""
        if len(self._values) == OVER_FRAMES:
            del self._sorted[bisect_left(self._sorted, self._values.popleft())]
        self._values.append(value)
        insort(self._sorted, value)

    def percentile(self, percent: float) -> float:
        """As numpy.percentile gives it: interpolated between the two nearest."""
        place = percent / 100.0 * (len(self._sorted) - 1)
        below = int(place)
        above = min(below + 1, len(self._sorted) - 1)
        low, high = self._sorted[below], self._sorted[above]
        return low + (place - below) * (high - low)


class Posture:
    """Reads poses of one runner in one view, in the order of capture."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._legs_px = _Recent()
        self._hips_px = _Recent()

    def hips_up(self, pose: Pose) -> float | None:
        """How high mid-hips are, in leg lengths, about 0.9 while running; None while not known.

        The mean of two heights: over the lower ankle, and against where the hips were in the last
        seconds, 1 being no lower. Each alone is misled by some view of a body on its knees. The
        leg's length comes from the frames before, so that a body on the floor, which is seen at
        an angle, is not measured by itself.
        """
        # In plain numbers, here and below: numpy takes several times as long over so few.
        points: list[list[float]] = pose.xy_px.tolist()
        legs = [[points[part] for part in leg] for leg in _LEGS]
        lengths = [math.dist(hip, knee) + math.dist(knee, ankle) for hip, knee, ankle in legs]
        if not math.isfinite(sum(lengths)):
            return None
        hips = (legs[0][0][1] + legs[1][0][1]) / 2.0
        leg = self._leg_px()
        self._legs_px.add(max(lengths))
        self._hips_px.add(hips)
        if not leg:
            return None
        over_foot = max(ankle[1] for _, _, ankle in legs) - hips
        lower = hips - self._hips_px.percentile(50.0)
        return (over_foot / leg + 1.0 - lower / leg) / 2.0

    def _leg_px(self) -> float | None:
        if len(self._legs_px) < NEEDED_FRAMES:
            return None
        return self._legs_px.percentile(LEG_QUANTILE)

    def place(self, pose: Pose) -> float | None:
        """Where along the belt, as ``Body.place`` says; None where it cannot be told."""
        if self._view is View.SIDE:
            x = pose.xy_px[:, 0]
            place = float(x[Lm.LEFT_HIP] + x[Lm.RIGHT_HIP]) / 2.0 / pose.width_px
        else:
            place = trunk_px(pose.xy_px) / pose.height_px
        return place if math.isfinite(place) else None


def hand_up(pose: Pose) -> bool:
    """Whether a hand is held over the head: arm up, elbow over shoulder, wrist over elbow."""
    y = pose.xy_px[:, 1].tolist()
    for shoulder, elbow, wrist in _ARMS:
        # Any comparison with NaN is False: what is not seen is not a raised hand.
        if not y[shoulder] > y[elbow] > y[wrist]:
            continue
        trunk = trunk_px(pose.xy_px)
        reach = y[shoulder] - y[wrist] > OVER_SHOULDER * trunk
        if reach and all(y[part] - y[wrist] > OVER_HEAD * trunk for part in _HEAD):
            return True
    return False


def box_of(pose: Pose) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom of the landmarks, shares of the picture; None for no body."""
    points = pose.xy_px[np.isfinite(pose.xy_px).all(axis=1)]
    if len(points) == 0:
        return None
    low, high = points.min(axis=0), points.max(axis=0)
    size = (pose.width_px, pose.height_px)
    return (low[0] / size[0], low[1] / size[1], high[0] / size[0], high[1] / size[1])
