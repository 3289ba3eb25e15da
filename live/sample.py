"""One frame of the runner for the mean stride: landmarks about the hips, and their trust."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shared.landmarks import Landmark as Lm
from shared.records import FloatArray, Pose


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
    theta: float = 0.0
    """Stride phase, rad, unwrapped."""
    swapped: bool = False
    filtered: tuple[FloatArray, FloatArray] | None = None
    predicted: tuple[FloatArray, FloatArray] | None = None
    residual: FloatArray | None = None
    """(33, 2) px, landmark less mean stride."""
    coefficients_id: int = 0


def make_sample(pose: Pose, t_s: float) -> Sample | None:
    """Turn a pose into a sample; None when the hips are unknown."""
    hips = pose.xy_px[[Lm.LEFT_HIP, Lm.RIGHT_HIP]]
    if not np.all(np.isfinite(hips)):
        return None
    root = hips.mean(axis=0)
    known = np.isfinite(pose.xy_px.sum(axis=1))
    visibility = np.where(np.isfinite(pose.visibility), pose.visibility, 0.0)
    weight = np.where(known, 0.3 + 0.7 * np.clip(visibility, 0.0, 1.0), 0.0)
    rel = np.where(known[:, None], pose.xy_px - root, 0.0)
    return Sample(captured_ns=pose.captured_ns, t_s=t_s, root=root, rel=rel, weight=weight)
