"""Tells from tiny grey pictures whether the camera was moved: the background shifts as a whole.

Pure. The picture is divided into regions. In each, outside the body's box, the shift against the
remembered background is estimated from brightness and its slope (Lucas and Kanade 1981). One
person who walks by shifts a few regions; a moved camera shifts (nearly) all. Brightness that
changes everywhere alike, as by a lamp, does not count.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from shared.clock_units import NS_PER_MS, NS_PER_S
from shared.records import FloatArray

WIDTH: Final = 64
HEIGHT: Final = 48
REGION: Final = 16
"""Regions are squares of so many pixels: 4 across, 3 down."""
SHIFT_PX: Final = 0.25
"""A larger shift counts, in pixels of the tiny picture: 0.4 % of the picture's width."""
ALIKE: Final = 0.6
"""A region less like its remembered self than this (correlation) has changed beyond a shift."""
LEAST_SLOPE: Final = 6.0
"""Regions without edges (mean squared slope, grey levels per pixel) tell nothing."""
FEWEST_REGIONS: Final = 3
FEWEST_PIXELS: Final = 80
SHARE: Final = 0.6
"""So many of the regions that tell something must have moved."""
BODY_MARGIN: Final = 0.06
MOVED_NS: Final = 400 * NS_PER_MS
"""A moved camera is told after so long; a trembling floor is not one."""
STILL_NS: Final = 5 * NS_PER_S
"""It must have stood still for so long before its new place is taken as given."""
LEARN_SHARE: Final = 0.02
"""How much of each frame goes into the remembered background."""

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Standing:
    """How the camera stands."""

    moved: bool
    """It was moved, and has not stood still for long enough since."""
    elsewhere: bool
    """It does not stand where it stood first."""


class CameraWatch:
    """Looks at every frame's tiny picture, in the order of capture."""

    def __init__(self) -> None:
        self._place: FloatArray | None = None
        """The background at the camera's accepted place."""
        self._recent: FloatArray | None = None
        """The background of the last half second or so."""
        self._off_since_ns: int | None = None
        self._still_since_ns: int | None = None
        self._moved = False
        self._elsewhere = False

    def look(self, grey: FloatArray, body: Box | None, at_ns: int) -> Standing:
        """Take in one frame: ``grey`` (48, 64), 0 to 255; ``body``: shares of the picture."""
        free = _outside(body)
        if self._place is None or self._recent is None:
            self._place, self._recent = grey.copy(), grey.copy()
            return Standing(moved=False, elsewhere=False)
        off = _has_shifted(self._place, grey, free)
        trembles = _has_shifted(self._recent, grey, free)
        self._recent[free] += 0.1 * (grey - self._recent)[free]
        if off:
            self._off_since_ns = at_ns if self._off_since_ns is None else self._off_since_ns
            self._moved = self._moved or at_ns - self._off_since_ns >= MOVED_NS
        else:
            self._off_since_ns = None
            self._moved = False
            self._place[free] += LEARN_SHARE * (grey - self._place)[free]
        self._settle(trembles, at_ns)
        return Standing(moved=self._moved, elsewhere=self._elsewhere or self._moved)

    def _settle(self, trembles: bool, at_ns: int) -> None:
        """Take the new place as given once the camera has stood there for long enough."""
        if not self._moved or trembles or self._recent is None:
            self._still_since_ns = None
            return
        if self._still_since_ns is None:
            self._still_since_ns = at_ns
        if at_ns - self._still_since_ns >= STILL_NS:
            self._place = self._recent.copy()
            self._off_since_ns = self._still_since_ns = None
            self._moved = False
            self._elsewhere = True


def _outside(body: Box | None) -> np.ndarray[tuple[int, int], np.dtype[np.bool_]]:
    """Which pixels lie outside the body's box and its margin, (48, 64)."""
    free = np.ones((HEIGHT, WIDTH), np.bool_)
    if body is not None:
        left, top, right, bottom = body
        rows = slice(_pixel(top - BODY_MARGIN, HEIGHT), _pixel(bottom + BODY_MARGIN, HEIGHT) + 1)
        columns = slice(_pixel(left - BODY_MARGIN, WIDTH), _pixel(right + BODY_MARGIN, WIDTH) + 1)
        free[rows, columns] = False
    return free


def _pixel(share: float, size: int) -> int:
    return int(min(max(share, 0.0), 1.0) * (size - 1))


def _has_shifted(
    before: FloatArray, now: FloatArray, free: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
) -> bool:
    """Whether most regions that tell something have moved."""
    down, across = (np.asarray(slope) for slope in np.gradient(before))
    change = now - before
    told = moved = 0
    for row in range(0, HEIGHT, REGION):
        for column in range(0, WIDTH, REGION):
            part = (slice(row, row + REGION), slice(column, column + REGION))
            use = free[part]
            if np.count_nonzero(use) < FEWEST_PIXELS:
                continue
            slopes = np.stack([across[part][use], down[part][use]], axis=1)
            slopes -= slopes.mean(axis=0)
            if float((slopes**2).sum(axis=1).mean()) < LEAST_SLOPE:
                continue
            told += 1
            moved += _region_moved(slopes, change[part][use], before[part][use], now[part][use])
    return told >= FEWEST_REGIONS and moved >= SHARE * told


def _region_moved(
    slopes: FloatArray, change: FloatArray, before: FloatArray, now: FloatArray
) -> bool:
    spread = float(before.std() * now.std())
    alike = float(np.mean((before - before.mean()) * (now - now.mean()))) / max(spread, 1e-9)
    if alike < ALIKE:
        return True
    # The brightest slope says how far; a small ridge keeps a single edge from saying too much.
    square: FloatArray = slopes.T @ slopes
    square = square + 0.02 * float(np.trace(square)) * np.eye(2)
    shift = np.linalg.solve(square, -slopes.T @ (change - change.mean()))
    return float(np.linalg.norm(shift)) > SHIFT_PX
