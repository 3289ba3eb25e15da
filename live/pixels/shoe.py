"""How far a standing shoe has gone from one picture to the next, read from its own pixels."""

from __future__ import annotations

from typing import Final

import numpy as np

from live.camera.opencv import cv2
from live.measures import contact_signs
from live.measures.belt_speed import Spot
from live.pixels.patches import Cut, cut_out, part_of
from shared.flow import Frame, Pose
from shared.landmarks import Landmark as Lm

ALIKE: Final = 0.6
"""Correlation of the shoe in one picture with itself in the next, at least."""
_WIDTH, _HEIGHT = 1.1, 0.35
"""What is compared, in lengths of the foot: the shoe without the leg above it."""
_MARGIN: Final = 0.12
"""How much further than expected is looked, in lengths of the foot; at most so much of the way:"""
_OF_THE_WAY: Final = 0.6
"""The room behind the shoe stands still, and must never be what is found."""
_SHORTEST_PX, _SMALLEST_PX = 4.0, 8.0
"""Less of a way, or of a shoe, says nothing sure."""
_UP_DOWN_PX: Final = 4
_AROUND: Final = 0.5
"""What is kept above and below the lowest foot, in lengths from knee to ankle."""
_SHINS: Final = ((Lm.LEFT_KNEE, Lm.LEFT_ANKLE), (Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE))
_FEET: Final = [Lm.LEFT_HEEL, Lm.RIGHT_HEEL, Lm.LEFT_FOOT_INDEX, Lm.RIGHT_FOOT_INDEX]


def strip_of(frame: Frame, pose: Pose) -> Cut | None:
    """The rows around the foot that is lowest; None where no feet are known in the picture."""
    xy = pose.xy_px
    if pose.people < 1 or not np.isfinite(xy[_FEET]).all():
        return None
    around = _AROUND * max(float(np.linalg.norm(xy[knee] - xy[ankle])) for knee, ankle in _SHINS)
    lowest = float(xy[_FEET, 1].max())
    rows, columns = frame.image.shape[:2]
    if not np.isfinite(around) or around < 1.0:
        return None
    top, bottom = max(0, round(lowest - around)), min(rows, round(lowest + around))
    if bottom - top < around:
        return None
    return cut_out(frame, 0, top, columns, bottom)


def way_px(before: Cut, now: Cut, spot: Spot) -> float | None:
    """How far the shoe at ``spot`` has gone, px of the picture, + to the right.

    None where nothing like it is found near where it should be.
    """
    per = before.per_px
    expected, length = per * spot.way_px, per * spot.length_px
    if abs(expected) < _SHORTEST_PX or length < _SMALLEST_PX or now.per_px != per:
        return None
    wide, high = round(_WIDTH * length), max(round(_HEIGHT * length), 8)
    left = round(per * spot.x_px - wide / 2)
    top = round(per * (spot.y_px - before.top_px) - high / 2)
    shoe = part_of(before.grey, left, top, wide, high)
    aside = round(min(max(_MARGIN * length, 6.0), _OF_THE_WAY * abs(expected)))
    step = round(expected)
    lower = round(per * (before.top_px - now.top_px))
    there = part_of(
        now.grey,
        left + step - aside,
        top + lower - _UP_DOWN_PX,
        wide + 2 * aside,
        high + 2 * _UP_DOWN_PX,
    )
    if shoe is None or there is None:
        return None
    alike = cv2.matchTemplate(there, shoe, cv2.TM_CCOEFF_NORMED)
    row, column = divmod(int(np.argmax(alike)), alike.shape[1])
    on_edge = row in (0, alike.shape[0] - 1) or column in (0, alike.shape[1] - 1)
    if on_edge or alike[row, column] < ALIKE:
        return None
    return (step - aside + contact_signs.top(alike[row].astype(np.float64))) / per
