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
from numpy.typing import NDArray

from shared.flow import FloatArray
from shared.units import NS_PER_MS, NS_PER_S

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
SAME_SHARE: Final = 0.5
"""Of a place that is remembered, fewer than this may have moved or changed: things are put
elsewhere between two sessions."""
HALF_SHARE: Final = 0.4
"""And so many on each side of the picture: somebody who walks through it is on one side."""
_LEFT: Final = np.arange(12) % 4 < 2
_RIGHT: Final = ~_LEFT
FEWEST_LOOKS: Final = 5
"""A pixel of the room is known once it was seen so often."""
BODY_MARGIN: Final = 0.06
"""Around the body's box nothing is learnt, share of the picture."""
JUDGED_MARGIN: Final = 0.10
"""Nor is anything judged in a little more: the border of what was learnt is no edge of the room."""
MOVED_NS: Final = 400 * NS_PER_MS
"""A moved camera is told after so long; a trembling floor is not one."""
STILL_NS: Final = 5 * NS_PER_S
"""It must have stood still for so long before its new place is taken as given."""
LOOK_EVERY_NS: Final = 90 * NS_PER_MS
"""Pictures that come faster are passed over; a moved camera can wait that long."""
LEARN_SHARE: Final = 0.02
"""How much of a picture goes into the remembered background: it is 5 s old, in the mean."""
RECENT_SHARE: Final = 0.1
"""The same for the background of the last second, by which the camera is found to stand still."""

Box = tuple[float, float, float, float]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class CameraStability:
    """How the camera stands."""

    moved: bool
    """It was moved, and has not stood still for long enough since."""
    elsewhere: bool
    """It does not stand where it stood first."""


@dataclass(frozen=True, slots=True, eq=False)
class Backdrop:
    """The room behind the runner, as far as it was seen."""

    grey: FloatArray
    """(48, 64), 0 to 255."""
    known: Mask
    """(48, 64): where the room was seen, and not the runner."""

    def is_same(self, grey: FloatArray, body: Box | None) -> bool | None:
        """Whether this picture was taken from the same place; None where too little tells."""
        return _is_same(self.grey, grey, _outside(body, JUDGED_MARGIN) & self.known)


class BackdropLearner:
    """Learns the room behind the runner from tiny pictures of a camera that stands still."""

    def __init__(self) -> None:
        self._sum = np.zeros((HEIGHT, WIDTH))
        self._count = np.zeros((HEIGHT, WIDTH))

    def add(self, grey: FloatArray, body: Box | None) -> None:
        """Take in a picture: ``grey`` (48, 64), 0 to 255; ``body``: shares of the picture."""
        free = _outside(body, BODY_MARGIN)
        self._sum[free] += grey[free]
        self._count[free] += 1

    @property
    def backdrop(self) -> Backdrop:
        """What is known so far."""
        known = self._count >= FEWEST_LOOKS
        return Backdrop(grey=self._sum / np.maximum(self._count, 1), known=known)


class CameraWatch:
    """Looks at tiny pictures in the order of capture, about ten a second."""

    def __init__(self, remembered: Backdrop | None = None) -> None:
        """``remembered``: the background at the place where the camera ought to stand."""
        self._remembered = remembered
        self._place: FloatArray | None = None
        """The background at the camera's accepted place."""
        self._recent: FloatArray | None = None
        """The background of the last second or so."""
        self._looked_ns: int | None = None
        self._off_since_ns: int | None = None
        self._still_since_ns: int | None = None
        self._moved = False
        self._elsewhere = False

    def is_due(self, at_ns: int) -> bool:
        """Whether the picture of this instant is wanted."""
        return self._looked_ns is None or at_ns - self._looked_ns >= LOOK_EVERY_NS

    @property
    def standing(self) -> CameraStability:
        """How the camera stands, by the last picture."""
        return CameraStability(moved=self._moved, elsewhere=self._elsewhere or self._moved)

    def look(self, grey: FloatArray, body: Box | None, at_ns: int) -> None:
        """Take in a picture: ``grey`` (48, 64), 0 to 255; ``body``: shares of the picture."""
        self._looked_ns = at_ns
        free, judged = _outside(body, BODY_MARGIN), _outside(body, JUDGED_MARGIN)
        if self._place is None or self._recent is None:
            self._place, self._recent = grey.copy(), grey.copy()
            if self._remembered is None:
                return
            known = self._remembered.known
            self._place[known] = self._remembered.grey[known]
        off = _has_shifted(self._place, grey, judged)
        if off:
            self._off_since_ns = at_ns if self._off_since_ns is None else self._off_since_ns
            self._moved = self._moved or at_ns - self._off_since_ns >= MOVED_NS
        else:
            self._off_since_ns = None
            self._moved = False
            self._place[free] += LEARN_SHARE * (grey - self._place)[free]
        trembles = self._moved and _has_shifted(self._recent, grey, judged)
        self._recent[free] += RECENT_SHARE * (grey - self._recent)[free]
        self._settle(trembles, at_ns)

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


def _outside(body: Box | None, margin: float) -> Mask:
    """Which pixels lie outside the body's box and a margin, share of the picture, (48, 64)."""
    free = np.ones((HEIGHT, WIDTH), np.bool_)
    if body is not None:
        left, top, right, bottom = body
        rows = slice(_pixel(top - margin, HEIGHT), _pixel(bottom + margin, HEIGHT) + 1)
        columns = slice(_pixel(left - margin, WIDTH), _pixel(right + margin, WIDTH) + 1)
        free[rows, columns] = False
    return free


def _pixel(share: float, size: int) -> int:
    return int(min(max(share, 0.0), 1.0) * (size - 1))


def _has_shifted(before: FloatArray, now: FloatArray, free: Mask) -> bool:
    """Whether most regions that tell something have moved."""
    told, moved = _shifts(before, now, free)
    return bool(
        told.sum() >= FEWEST_REGIONS
        and moved.sum() >= SHARE * told.sum()
        and all(moved[half].sum() >= HALF_SHARE * told[half].sum() for half in (_LEFT, _RIGHT))
    )


def _is_same(before: FloatArray, now: FloatArray, free: Mask) -> bool | None:
    """Whether most regions that tell something stand where they were; None: too few tell."""
    told, moved = _shifts(before, now, free)
    if told.sum() < FEWEST_REGIONS:
        return None
    return bool(moved.sum() < SAME_SHARE * told.sum())


def _shifts(before: FloatArray, now: FloatArray, free: Mask) -> tuple[Mask, Mask]:
    """Which of the regions (12,) tell something, and which of these have moved."""
    weight = _regions(free.astype(np.float64))
    pixels = weight.sum(axis=1)
    share = weight / np.maximum(pixels, 1.0)[:, None]

    def level(values: FloatArray) -> FloatArray:
        """The regions (12, 256) of a picture, less their own mean outside the body."""
        regions = _regions(values)
        return np.asarray(regions - (share * regions).sum(axis=1, keepdims=True))

    def mean(values: FloatArray) -> FloatArray:
        return np.asarray((share * values).sum(axis=1))

    down, across = (level(np.asarray(slope)) for slope in np.gradient(before))
    was, change = level(before), level(now - before)
    xx, yy, xy = mean(across * across), mean(down * down), mean(across * down)
    told = (pixels >= FEWEST_PIXELS) & (xx + yy >= LEAST_SLOPE)
    spread = np.sqrt(mean(was * was) * mean((was + change) ** 2))
    alike = mean(was * (was + change)) / np.maximum(spread, 1e-9)
    # The steepest slope says how far; a small ridge keeps a single edge from saying too much.
    ridge = 0.02 * (xx + yy) + 1e-9
    xx, yy = xx + ridge, yy + ridge
    to_x, to_y = mean(across * change), mean(down * change)
    shift = np.hypot(yy * to_x - xy * to_y, xx * to_y - xy * to_x) / (xx * yy - xy * xy)
    return told, told & ((alike < ALIKE) | (shift > SHIFT_PX))


def _regions(values: FloatArray) -> FloatArray:
    """A tiny picture cut into its regions (12, 256)."""
    rows, columns = HEIGHT // REGION, WIDTH // REGION
    cut = values.reshape(rows, REGION, columns, REGION).swapaxes(1, 2)
    return cut.reshape(rows * columns, REGION * REGION)
