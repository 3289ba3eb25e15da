"""How far a standing shoe has gone from one picture to the next, read from its own pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live import contact
from live.beltspeed import Spot
from live.opencv import cv2
from live.pipeline import Pipeline
from shared.landmarks import Landmark as Lm
from shared.records import Frame, Pose, View

ALIKE: Final = 0.6
"""Correlation of the shoe in one picture with itself in the next, at least."""
MOST_ROWS: Final = 480
"""Of the picture; larger ones are made smaller first, which costs little and loses nothing."""
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


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """The rows of a picture around the foot that is lowest in it."""

    captured_ns: int
    top_px: float
    """First row, in the picture's own pixels."""
    per_px: float
    """Pixels of the strip to one of the picture."""
    grey: NDArray[np.uint8]


def strip_of(frame: Frame, pose: Pose, view: View) -> Strip | None:
    """Cut it out of a frame; None where no feet were found or they are not in the picture.

    None too from behind and in front, where the belt comes toward the camera or goes away from it.
    """
    xy = pose.xy_px
    if view is not View.SIDE or pose.people < 1 or not np.isfinite(xy[_FEET]).all():
        return None
    around = _AROUND * max(float(np.linalg.norm(xy[knee] - xy[ankle])) for knee, ankle in _SHINS)
    lowest = float(xy[_FEET, 1].max())
    rows = frame.image.shape[0]
    if not np.isfinite(around) or around < 1.0:
        return None
    top, bottom = max(0, round(lowest - around)), min(rows, round(lowest + around))
    if bottom - top < around:
        return None
    grey = cv2.cvtColor(frame.image[top:bottom], cv2.COLOR_BGR2GRAY)
    per_px = min(1.0, MOST_ROWS / rows)
    if per_px < 1.0:
        grey = cv2.resize(grey, None, fx=per_px, fy=per_px, interpolation=cv2.INTER_AREA)
    return Strip(frame.captured_ns, float(top), per_px, np.asarray(grey, np.uint8))


def way_px(before: Strip, now: Strip, spot: Spot) -> float | None:
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
    shoe = _part(before.grey, left, top, wide, high)
    aside = round(min(max(_MARGIN * length, 6.0), _OF_THE_WAY * abs(expected)))
    step = round(expected)
    lower = round(per * (before.top_px - now.top_px))
    there = _part(
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
    return (step - aside + contact.top(alike[row].astype(np.float64))) / per


class ShoeWatch:
    """Shows a pipeline how far the standing shoe went; give it the strip of every frame."""

    def __init__(self, pipeline: Pipeline) -> None:
        self._pipeline = pipeline
        self._before: Strip | None = None

    def see(self, strip: Strip | None) -> float | None:
        """The way that was found, px; call it once the pipeline has taken the same frame's pose."""
        before, self._before = self._before, strip
        if before is None or strip is None:
            return None
        spot = self._pipeline.standing_shoe()
        if spot is None or (spot.before_ns, spot.now_ns) != (before.captured_ns, strip.captured_ns):
            return None
        found = way_px(before, strip, spot)
        if found is not None:
            self._pipeline.shoe_went(spot, found)
        return found


def _part(
    grey: NDArray[np.uint8], left: int, top: int, wide: int, high: int
) -> NDArray[np.uint8] | None:
    rows, columns = grey.shape
    if left < 0 or top < 0 or left + wide > columns or top + high > rows:
        return None
    return grey[top : top + high, left : left + wide]
