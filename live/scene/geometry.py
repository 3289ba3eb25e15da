"""Angles of a body in the picture; points are (2,) or (n, 2) pixels, x right and y down."""

from __future__ import annotations

import math

import numpy as np

from shared.flow import FloatArray
from shared.landmarks import Landmark as Lm


def bend_deg(first: FloatArray, middle: FloatArray, last: FloatArray) -> FloatArray:
    """Angle at ``middle`` away from straight, deg, 0 to 180."""
    upper, lower = middle - first, last - middle
    cross = upper[..., 0] * lower[..., 1] - upper[..., 1] * lower[..., 0]
    along = (upper * lower).sum(axis=-1)
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, along))))


def from_vertical_deg(lower: FloatArray, upper: FloatArray, toward: float) -> FloatArray:
    """Lean of the line from ``lower`` up to ``upper``, deg, + toward picture x times ``toward``."""
    line = upper - lower
    return np.asarray(np.degrees(np.arctan2(toward * line[..., 0], -line[..., 1])))


def pitch_deg(heel: FloatArray, toe: FloatArray, forward: float) -> FloatArray:
    """Foot against the level, deg, + toe up; ``forward`` is the runner's front in x."""
    foot = toe - heel
    return np.asarray(np.degrees(np.arctan2(-foot[..., 1], forward * foot[..., 0])))


def trunk_px(points: FloatArray) -> float:
    """Mid-shoulders to mid-hips of one pose (33, 2) px; NaN where one of the four is unknown."""
    trunk = points[Lm.LEFT_SHOULDER] + points[Lm.RIGHT_SHOULDER]
    # In plain numbers: numpy takes several times as long over so few.
    x, y = (trunk - points[Lm.LEFT_HIP] - points[Lm.RIGHT_HIP]).tolist()
    return float(math.hypot(x, y)) / 2.0
