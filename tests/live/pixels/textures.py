"""Made-up pictures of something that goes before a room that stands still."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from shared.flow import FloatArray


def textured(
    seed: int, rows: int, columns: int, contrast: float = 200.0, grain_px: float = 2.0
) -> FloatArray:
    """(rows, columns) grey levels about 128, never the same twice."""
    rng = np.random.default_rng(seed)
    even: FloatArray = ndimage.gaussian_filter(rng.normal(0.0, contrast, (rows, columns)), grain_px)
    return 128.0 + even


def moved(
    room: FloatArray,
    thing: FloatArray,
    place: tuple[slice, slice],
    down_px: float,
    right_px: float,
) -> tuple[FloatArray, FloatArray]:
    """The thing at its place (rows, columns) before the room; then gone so far (by splines)."""
    where = np.zeros(room.shape)
    where[place] = 1.0
    there = ndimage.shift(where, (down_px, right_px), order=1)
    gone = ndimage.shift(thing, (down_px, right_px), order=3)
    return room * (1 - where) + thing * where, room * (1 - there) + gone * there
