"""How the body stands in the picture, and so how the camera stands to the body (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from live.scene.view import SIDE_WIDTH
from shared.flow import FloatArray, Pose, View
from shared.landmarks import Landmark as Lm

CROWN: Final = 0.54
"""The crown lies so far over the eyes, in heights of eyes over shoulders: .064 / .118 of stature
(eye height .936, shoulder height .818: Drillis and Contini)."""
SIDE_YAW: Final = (-2.2, -122.5)
"""Degrees toward the runner's front from the signed width of the shoulders in trunk lengths: a line
fitted to the rendered tuning cases, 2.6 degrees off (RMS). The hips' width, hidden by clothes that
swing, made it 3.4 instead of 2.7 with builds left out in turn."""
STANDING_YAW: Final = (0.7, -85.5)
"""The same from the widths of shoulders and hips together, of somebody who stands: the model sees
the far shoulder a little further back then. 2.4 degrees off (SD, eight tuning cases)."""
STANDS_STILL: Final = 0.08
"""Spread of one ankle's height over the other, in trunk lengths; running it is 0.3 and more."""
FOOT_YAW: Final = {View.BEHIND: (1.9, 160.0), View.FRONT: (0.9, 93.0)}
"""Degrees toward the runner's right from where the feet point, sideways, in trunk lengths: fitted
to the rendered clips, 1.2 degrees off (RMS), at most 2.5. Feet that point outward unequally mislead
it: half of what one foot points out more than the other."""
FEWEST: Final = 12
_SHOULDERS: Final = [Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER]
_HIPS: Final = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
_EYES: Final = [Lm.LEFT_EYE, Lm.RIGHT_EYE]
_SOLES: Final = [Lm.LEFT_HEEL, Lm.RIGHT_HEEL, Lm.LEFT_FOOT_INDEX, Lm.RIGHT_FOOT_INDEX]
_FEET: Final = (
    (Lm.LEFT_ANKLE, Lm.RIGHT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX),
    (Lm.RIGHT_ANKLE, Lm.LEFT_ANKLE, Lm.RIGHT_HEEL, Lm.RIGHT_FOOT_INDEX),
)
_LOWER: Final = 0.12
"""A foot lower than the other one by so many trunk lengths stands on the belt."""
_FEWEST_LOW: Final = 5


@dataclass(frozen=True, slots=True)
class Placing:
    """The body over some frames."""

    box: tuple[float, float, float, float]
    """Left, top, right, bottom of all that it covers, crown and soles included; shares of the
    picture, under 0 or over 1 where it is cut off."""
    height_share: float
    """Crown to soles, share of the picture's height."""
    hips: tuple[float, float]
    """Mid-hips, shares of the picture."""
    soles_y: float
    """Where the lower foot meets the belt, share of the picture's height."""
    yaw_deg: float | None
    """How far the camera is turned around the runner: from the side, + toward the runner's front;
    from behind and in front, + toward the runner's right. None where it cannot be told."""
    roll_deg: float | None
    """How far the body leans in the picture, + to the left; None from the side, where a runner
    leans anyway."""


def find(poses: Sequence[Pose], view: View) -> Placing | None:
    """The placing over these poses of one body; None when they are too few or too poor."""
    stack = np.array([pose.xy_px for pose in poses if np.isfinite(pose.xy_px).all()])
    if len(stack) < FEWEST:
        return None
    size = np.array([poses[-1].width_px, poses[-1].height_px], np.float64)
    shoulders, hips = stack[:, _SHOULDERS].mean(axis=1), stack[:, _HIPS].mean(axis=1)
    trunk = float(np.median(np.linalg.norm(shoulders - hips, axis=1)))
    if trunk < 5.0:
        return None
    eyes_y = stack[:, _EYES, 1].mean(axis=1)
    crown_y = eyes_y - CROWN * (shoulders[:, 1] - eyes_y)
    soles_y = stack[:, _SOLES, 1].max(axis=1)
    low = np.percentile(stack.min(axis=1), 4, axis=0)
    high = np.percentile(stack.max(axis=1), 96, axis=0)
    box = (
        float(low[0] / size[0]),
        float(np.percentile(crown_y, 4) / size[1]),
        float(high[0] / size[0]),
        float(high[1] / size[1]),
    )
    middle = np.median(hips, axis=0) / size
    return Placing(
        box=box,
        # Bent legs make a runner shorter; the longest of the frames come near to standing.
        height_share=float(np.percentile(soles_y - crown_y, 90) / size[1]),
        hips=(float(middle[0]), float(middle[1])),
        soles_y=float(np.percentile(soles_y, 75) / size[1]),
        yaw_deg=_yaw(stack, trunk, view),
        roll_deg=None if view is View.SIDE else _roll(stack, shoulders),
    )


def side_yaw_deg(points: FloatArray, trunk: float) -> float:
    """Yaw from the side of a runner, whose landmarks are ``points`` (n, 33, 2) over whole strides.

    ``trunk`` is the trunk's length in the same unit.
    """
    start, per = SIDE_YAW
    return start + per * float(_across(points, trunk)[0])


def _across(points: FloatArray, trunk: float) -> FloatArray:
    """(2,): how far the right shoulder and hip lie to the right of the left ones, in trunks."""
    widths = points[:, [Lm.RIGHT_SHOULDER, Lm.RIGHT_HIP], 0]
    widths = widths - points[:, [Lm.LEFT_SHOULDER, Lm.LEFT_HIP], 0]
    return np.asarray(widths.mean(axis=0) / trunk)


def _yaw(stack: FloatArray, trunk: float, view: View) -> float | None:
    if (abs(float(_across(stack, trunk)[0])) < SIDE_WIDTH) is not (view is View.SIDE):
        return None  # another view than was asked for
    if view is View.SIDE:
        apart = stack[:, Lm.LEFT_ANKLE, 1] - stack[:, Lm.RIGHT_ANKLE, 1]
        stands = float(apart.std()) < STANDS_STILL * trunk
        if stands:
            start, per = STANDING_YAW
            return start + per * float(_across(stack, trunk).sum())
        return side_yaw_deg(stack, trunk)
    start, per = FOOT_YAW[view]
    return start + per * float(np.mean([_points_aside(stack, foot) for foot in _FEET])) / trunk


def _points_aside(stack: FloatArray, foot: tuple[Lm, Lm, Lm, Lm]) -> float:
    """How far the toes lie to the right of the heel in the picture while the foot stands, px."""
    ankle, other, heel, toe = foot
    trunk = np.linalg.norm(stack[:, _SHOULDERS].mean(axis=1) - stack[:, _HIPS].mean(axis=1), axis=1)
    stands = stack[:, ankle, 1] > stack[:, other, 1] + _LOWER * trunk
    chosen = stack[stands] if stands.sum() >= _FEWEST_LOW else stack
    return float(np.median(chosen[:, toe, 0] - chosen[:, heel, 0]))


def _roll(stack: FloatArray, shoulders: FloatArray) -> float:
    """Lean of the line from mid-ankles to mid-shoulders, mean over the frames, + to the left."""
    ankles = stack[:, [Lm.LEFT_ANKLE, Lm.RIGHT_ANKLE]].mean(axis=1)
    aside, down = (ankles - shoulders).mean(axis=0)
    return float(np.degrees(np.arctan2(aside, down)))
