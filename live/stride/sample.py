"""One frame of the runner for the mean stride: landmarks about the hips, and their trust."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.stride.phase_filter import Belief
from shared.flow import FloatArray, Pose
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm

RIGID: Final = np.array(
    [
        Lm.NOSE,
        Lm.LEFT_EAR,
        Lm.RIGHT_EAR,
        Lm.LEFT_SHOULDER,
        Lm.RIGHT_SHOULDER,
        Lm.LEFT_HIP,
        Lm.RIGHT_HIP,
    ]
)
"""Never hidden behind a leg and never exchanged, from any side."""
BoolArray = NDArray[np.bool_]
_RIGID_ONES: Final = np.isin(np.arange(LANDMARK_COUNT), RIGID).astype(np.float64)


@dataclass(slots=True, eq=False)
class Sample:
    """One frame inside the window, with what was concluded about it."""

    captured_ns: int
    t_s: float
    root: FloatArray
    """(2,) mid-hips, px."""
    rel: FloatArray
    """(33, 2) landmarks less mid-hips, px, legs named as concluded."""
    weight: FloatArray
    """(33,) trust in each landmark, 0 to 1."""
    down_px: float
    """How far down in the picture the body is: its rigid parts, weighted."""
    hips_way_px: float = math.nan
    """How far the hips went sideways since the frame before, by the picture; NaN: not seen."""
    theta: float = 0.0
    """Stride phase, rad, unwrapped."""
    swapped: bool = False
    filtered: Belief | None = None
    predicted: Belief | None = None
    """Before the frame was seen."""
    residual: FloatArray | None = None
    """(33, 2) px, landmark less mean stride."""


def make_sample(pose: Pose, t_s: float) -> Sample | None:
    """Turn a pose into a sample; None when the hips are unknown."""
    left, right = pose.xy_px[Lm.LEFT_HIP].tolist(), pose.xy_px[Lm.RIGHT_HIP].tolist()
    root = np.array([(left[0] + right[0]) / 2.0, (left[1] + right[1]) / 2.0])
    weight = 0.3 + 0.7 * np.minimum(np.maximum(pose.visibility, 0.0), 1.0)
    rel = pose.xy_px - root
    if not math.isfinite(float(weight.sum()) + float(rel.sum())):
        if not np.isfinite(root).all():
            return None
        known: BoolArray = np.isfinite(pose.xy_px.sum(axis=1))
        weight = np.where(known, np.where(np.isfinite(weight), weight, 0.3), 0.0)
        rel = np.where(known[:, None], rel, 0.0)
    trust = weight * _RIGID_ONES
    down = float(root[1] + trust @ rel[:, 1] / max(float(trust.sum()), 1e-9))
    return Sample(pose.captured_ns, t_s, root, rel, weight, down)
