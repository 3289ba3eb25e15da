"""Which of the two legs is the left one, and how sure that is (pure).

The mean stride has two legs; what it calls left is a guess until several things that know nothing
of each other speak for it: the model's own names, the arms (each swings with the leg of the other
side), and the view, which from the side makes the near leg the longer one in the picture and lets
it hide the far one, and from behind and in front shows which leg is on which side of the body.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from live.scene.leg_place import NEAR, place_of
from live.stride.mean_stride import MeanStride
from shared.flow import FloatArray, Side, View
from shared.landmarks import Landmark as Lm

SURE: Final = 3.0
"""Points that one leg's name needs over the other's: one witness alone may err."""
STILL_SURE: Final = 1.5
CLEAR: Final = 0.085
STILL_CLEAR: Final = 0.11
"""Most that the frames of some strides may lie off the mean stride, leg lengths, from the side:
legs that cannot be made out have no sides either (0.02 to 0.07 in those that can, 0.13 in black
tights behind a handrail)."""
NAMES: Final = 2.0
"""Points for names that the model always gives alike; none where it gives either half the time."""
ARMS: Final = 3.0
ARMS_SWING: Final = 0.2
"""Least travel of the wrists against each other, leg lengths (0.43 to 0.97 from the side)."""
ARMS_AGAINST: Final = 0.35
"""Least correlation of wrists with ankles (-0.43 to -0.91 on rendered, real and captured ones)."""
UNSEEN_ARM: Final = 0.6
"""What the arms' names count where neither arm is better seen: the body may be named for its mirror
image as a whole. All, if the near one is by ``ARM_MORE_VISIBLE`` (0.3 to 0.6 by the real model);
nothing, if the far one is."""
ARM_MORE_VISIBLE: Final = 0.25
LONGER: Final = 0.012
"""Logarithm of near over far leg's length in the picture that gives one point (0.016 to 0.05)."""
MORE_VISIBLE: Final = 0.05
"""How much more visible a knee is that gives one point (0.05 to 0.2 by the real model)."""
APART: Final = 0.027
"""Knees apart across, leg lengths, that gives one point (0.09 to 0.16 from behind and in front,
0.05 where frames are still exchanged)."""


def sure(points: float, misfit: float, view: View, before: bool) -> bool:
    """Whether left and right are to be told, by :func:`points_for_names`.

    ``misfit`` is how far the frames lie off the mean stride, leg lengths; ``before``, whether the
    sides were sure until now.
    """
    enough, clear = (STILL_SURE, STILL_CLEAR) if before else (SURE, CLEAR)
    return points >= enough and (view is not View.SIDE or misfit <= clear)


def points_for_names(
    mean: MeanStride, swapped_share: float, view: View, forward: float, leg_px: float
) -> float:
    """How much speaks for the legs' names in the mean stride; below 0 for the other way round.

    ``swapped_share`` is the share of frames in which the model named them otherwise; ``forward``
    +1 when the runner faces right in the picture (side view).
    """
    names = NAMES * (1.0 - 2.0 * swapped_share)
    body = mean.all_round
    if view is not View.SIDE:
        to_right = -1.0 if view is View.FRONT else 1.0
        knees = to_right * float((body[:, Lm.RIGHT_KNEE, 0] - body[:, Lm.LEFT_KNEE, 0]).mean())
        return names + _at_most(knees / leg_px / APART, 5.0)
    near = 0 if place_of(view, Side.LEFT, forward) == NEAR else 1
    lengths = _leg_length(body, near) / max(_leg_length(body, 1 - near), 1e-9)
    longer = _at_most(float(np.log(max(lengths, 1e-9))) / LONGER, 2.0)
    if longer < 0.0:  # a near leg that is the shorter one speaks louder than one that is not
        longer *= 2.0
    seen = mean.seen[Lm.LEFT_KNEE + near] - mean.seen[Lm.RIGHT_KNEE - near]
    arm = float(mean.seen[Lm.LEFT_WRIST + near] - mean.seen[Lm.RIGHT_WRIST - near])
    trust = min(max(UNSEEN_ARM + arm / ARM_MORE_VISIBLE, 0.0), 1.0)
    hides = _at_most(float(seen) / MORE_VISIBLE, 1.0)
    return names + longer + hides + trust * _by_arms(body, leg_px)


def _by_arms(body: FloatArray, leg_px: float) -> float:
    wrists, ankles = (
        body[:, left, 0] - body[:, left + 1, 0] for left in (Lm.LEFT_WRIST, Lm.LEFT_ANKLE)
    )
    if np.ptp(wrists) < ARMS_SWING * leg_px:
        return 0.0
    against = -float(np.corrcoef(wrists, ankles)[0, 1])
    return ARMS * float(np.sign(against)) if abs(against) >= ARMS_AGAINST else 0.0


def _leg_length(body: FloatArray, side: int) -> float:
    """Thigh and shank of the left (0) or right (1) leg in the picture, px, the middle one."""
    hip, knee, ankle = (body[:, i + side] for i in (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE))
    thigh, shank = np.linalg.norm(knee - hip, axis=1), np.linalg.norm(ankle - knee, axis=1)
    return float(np.median(thigh + shank))


def _at_most(points: float, most: float) -> float:
    return min(max(points, -most), most)
