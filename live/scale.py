"""Pixels to metres: from body height, and from the belt's speed under the stance foot."""

from __future__ import annotations

from typing import Final

import numpy as np

from live.stride import MeanStride
from shared.landmarks import Landmark as Lm
from shared.records import FloatArray

LEG_OF_HEIGHT: Final = 0.491
"""Hip to ankle over stature: .245 thigh + .246 shank (Drillis and Contini; Winter Fig. 4.1)."""
TRUNK_OF_HEIGHT: Final = 0.288
"""Hip to shoulder over stature, same table."""


def trunk_px(curves: FloatArray) -> float:
    """Mid-hips to mid-shoulders in the mean stride, px; ``curves`` (n, 33, 2) by phase."""
    shoulders = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    return float(np.median(np.linalg.norm(shoulders, axis=1)))


def px_per_m_from_height(
    mean: MeanStride, curves: FloatArray, leg_px: float, height_m: float
) -> float:
    """Scale at the hips from body height: leg and trunk together against the body table."""
    del mean
    return (leg_px + trunk_px(curves)) / ((LEG_OF_HEIGHT + TRUNK_OF_HEIGHT) * height_m)
