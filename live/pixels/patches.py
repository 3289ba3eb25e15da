"""A part of a picture, cut out in grey to be laid over the next picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.camera.opencv import cv2
from shared.flow import Frame

MOST_ROWS: Final = 480
"""Of the picture; larger ones are made smaller first, which costs little and loses nothing."""
Grey = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Cut:
    """What was cut out of one picture."""

    captured_ns: int
    left_px: float
    top_px: float
    """Where it begins, in the picture's own pixels."""
    per_px: float
    """Pixels of the cut to one of the picture."""
    grey: Grey


def cut_out(frame: Frame, left: int, top: int, right: int, bottom: int) -> Cut:
    """Columns ``left`` to ``right`` and rows ``top`` to ``bottom``, which the picture must have."""
    image = frame.image[top:bottom, left:right]
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    per_px = min(1.0, MOST_ROWS / frame.image.shape[0])
    if per_px < 1.0:
        grey = cv2.resize(grey, None, fx=per_px, fy=per_px, interpolation=cv2.INTER_AREA)
    return Cut(frame.captured_ns, float(left), float(top), per_px, np.asarray(grey, np.uint8))


def part_of(grey: Grey, left: int, top: int, wide: int, high: int) -> Grey | None:
    """A part of what was cut out; None where it is not wholly in it."""
    rows, columns = grey.shape
    if left < 0 or top < 0 or left + wide > columns or top + high > rows:
        return None
    return grey[top : top + high, left : left + wide]
