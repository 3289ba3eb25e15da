"""How far the hips have gone sideways from one picture to the next, read from the picture itself.

Clothes hide the hip joints, so their landmarks wander with the legs by half of what the pelvis
shifts. The cloth over the pelvis goes with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from live.camera.opencv import cv2
from live.pixels.patches import Cut, cut_out, part_of
from shared.flow import Frame, Pose
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S

LONGEST_PAIR_NS: Final = NS_PER_S // 10
"""Between two pictures that are laid over each other: some way is left to follow at 12 a second."""
_SMALLEST_PX: Final = 24
"""A smaller body, trunk's length, says nothing sure."""
_WIDE, _ABOVE_BELOW = 0.6, 0.44
"""What is laid over the next picture, on each side of mid-hips, in lengths of the trunk: with some
of the room beside it, since a body in plain clothes is known by its outline."""
_ROOM: Final = 0.15
"""What is cut out around it, for the way that the body goes to the next picture."""
_READ_WIDE, _READ_ABOVE, _READ_BELOW = 0.45, 0.09, 0.13
"""Where the movement is read: over the pelvis, not over arms and thighs."""


@dataclass(frozen=True, slots=True, eq=False)
class HipsCut:
    """The part of a picture around the hips, and where they are in it, in pixels of the cut."""

    cut: Cut
    x: float
    y: float
    """Mid-hips."""
    trunk: float
    """Mid-hips to mid-shoulders."""


def hips_cut_of(frame: Frame, pose: Pose) -> HipsCut | None:
    """Cut it out of a frame; None where no hips were found or too little of them is in it."""
    if pose.people < 1:
        return None
    xy = pose.xy_px
    hips = (xy[Lm.LEFT_HIP] + xy[Lm.RIGHT_HIP]) / 2.0
    shoulders = (xy[Lm.LEFT_SHOULDER] + xy[Lm.RIGHT_SHOULDER]) / 2.0
    trunk_px = float(np.linalg.norm(shoulders - hips))
    if not np.isfinite(trunk_px) or trunk_px < _SMALLEST_PX:
        return None
    x_px, y_px = hips.tolist()
    aside, up_down = (_WIDE + _ROOM) * trunk_px, (_ABOVE_BELOW + _ROOM) * trunk_px
    rows, columns = frame.image.shape[:2]
    left, right = max(0, round(x_px - aside)), min(columns, round(x_px + aside))
    top, bottom = max(0, round(y_px - up_down)), min(rows, round(y_px + up_down))
    if right - left < trunk_px or bottom - top < _ABOVE_BELOW * trunk_px:
        return None
    cut = cut_out(frame, left, top, right, bottom)
    per = cut.per_px
    return HipsCut(cut, per * (x_px - left), per * (y_px - top), per * trunk_px)


class HipsFollower:
    """Lays the hips of one picture over the next one, and tells how far they went."""

    def __init__(self) -> None:
        self._flow = cv2.DISOpticalFlow.create(cv2.DISOPTICAL_FLOW_PRESET_FAST)

    def way_px(self, before: HipsCut, now: HipsCut) -> float | None:
        """How far they went, px of the picture, + to the right.

        None where the pictures are too far apart in time, or too little of both shows the same
        part of the room. By dense inverse search (Kroeger et al. 2016), as in opencv.
        """
        first, second = before.cut, now.cut
        span_ns = second.captured_ns - first.captured_ns
        if span_ns > LONGEST_PAIR_NS or first.per_px != second.per_px:
            return None
        # From corner to corner, in whole pixels of the cuts: what is lost by that is put back.
        apart = first.per_px * (second.left_px - first.left_px)
        right, down = round(apart), round(first.per_px * (second.top_px - first.top_px))
        left, top, wide, high = _in_both(before, now, right, down)
        one = part_of(first.grey, left, top, wide, high)
        other = part_of(second.grey, left - right, top - down, wide, high)
        if one is None or other is None or min(wide, high) < _SMALLEST_PX:
            return None
        both = np.ascontiguousarray(one), np.ascontiguousarray(other)
        flow = self._flow.calc(*both, None)  # type: ignore[call-overload]  # it may be None
        places = (
            before.y - _READ_ABOVE * before.trunk - top,
            before.y + _READ_BELOW * before.trunk - top,
            before.x - _READ_WIDE * before.trunk - left,
            before.x + _READ_WIDE * before.trunk - left,
        )
        # Negative ones would be counted from the other end.
        above, below, from_x, to_x = (max(0, round(place)) for place in places)
        read = flow[above:below, from_x:to_x, 0]
        if read.size == 0:
            return None
        return (float(np.median(read)) + apart - right) / first.per_px


def _in_both(before: HipsCut, now: HipsCut, right: int, down: int) -> tuple[int, int, int, int]:
    """Left, top, width and height, in the earlier cut, of what both show around its hips.

    The later one begins so many pixels further to the right and down.
    """
    (rows, columns), (later_rows, later_columns) = before.cut.grey.shape, now.cut.grey.shape
    aside, up_down = _WIDE * before.trunk, _ABOVE_BELOW * before.trunk
    left, top = max(0, right, round(before.x - aside)), max(0, down, round(before.y - up_down))
    to_x = min(columns, right + later_columns, round(before.x + aside))
    to_y = min(rows, down + later_rows, round(before.y + up_down))
    return left, top, to_x - left, to_y - top
