"""The values behind the panel's charts, by measure and side, and the axis for them (pure)."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shared.catalogue import PERCENT_LEG
from shared.flow import FloatArray, Side
from shared.messages import Point

KEPT_NS: Final = 600_000_000_000
"""Ten minutes, as long as the station keeps them."""
_NICE: Final = (1.0, 2.0, 5.0, 10.0)
_Times = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Kept:
    at_ns: int
    value: float
    unit: str
    percent_leg: float | None

    def in_unit(self, unit: str) -> float:
        """The value in this unit; NaN where it is not known in it."""
        if unit == self.unit:
            return self.value
        if unit == PERCENT_LEG and self.percent_leg is not None:
            return self.percent_leg
        return math.nan


class Traces:
    """Keeps the points of one run of the station; those of another run replace them."""

    def __init__(self) -> None:
        self.run = ""
        self.newest = 0
        """Number of the newest point."""
        self._kept: dict[tuple[str, Side | None], list[_Kept]] = {}
        self._drawn: dict[tuple[str, Side | None, str], tuple[_Times, FloatArray]] = {}
        """Ready to draw, by measure, side and unit, until the next point comes."""

    def begin(self, run: str) -> None:
        """What comes now belongs to ``run``; a run that is new empties the charts."""
        if run != self.run:
            self.run = run
            self.newest = 0
            self._kept.clear()
            self._drawn.clear()

    def add(self, points: Iterable[Point]) -> bool:
        """Take in points, each number once; True when there were new ones."""
        grew = False
        for point in points:
            if point.number <= self.newest:
                continue
            self.newest = point.number
            if math.isfinite(point.value):
                self._kept.setdefault((point.name, point.side), []).append(
                    _Kept(point.at_ns, point.value, point.unit, point.percent_leg)
                )
                for known in [key for key in self._drawn if key[:2] == (point.name, point.side)]:
                    del self._drawn[known]
                grew = True
        return grew

    def forget(self, now_ns: int) -> None:
        """Let go of what is older than ten minutes."""
        oldest = now_ns - KEPT_NS
        for kept in self._kept.values():
            if kept and kept[0].at_ns < oldest:
                kept[:] = [one for one in kept if one.at_ns >= oldest]
                self._drawn.clear()

    def series(
        self, name: str, side: Side | None, unit: str, now_ns: int
    ) -> tuple[FloatArray, FloatArray]:
        """Seconds before ``now_ns`` (0 or less, rising) and values in ``unit``, as (n,) each."""
        key = (name, side, unit)
        if key not in self._drawn:
            self._drawn[key] = self._in_order(name, side, unit)
        at_ns, values = self._drawn[key]
        return (at_ns - now_ns) / 1e9, values

    def _in_order(self, name: str, side: Side | None, unit: str) -> tuple[_Times, FloatArray]:
        kept = self._kept.get((name, side), [])
        at_ns = np.array([one.at_ns for one in kept], dtype=np.int64)
        values = np.array([one.in_unit(unit) for one in kept], dtype=np.float64)
        order = np.argsort(at_ns, kind="stable")  # a step may be known before the one before it
        order = order[np.isfinite(values[order])]
        return at_ns[order], values[order]


def axis_range(
    values: FloatArray, marks: Iterable[float], least_span: float, before: tuple[float, float]
) -> tuple[float, float]:
    """The range of a chart's upright axis that holds ``values`` and ``marks``.

    A range that still fits (all inside, filling a third of it) is left as it was ``before``, so
    that the picture does not jump with every step; ``before`` (nan, nan) means there is none.
    """
    wanted = np.concatenate([values[np.isfinite(values)], np.array(list(marks), dtype=np.float64)])
    if not wanted.size:
        return before if math.isfinite(before[0]) else (0.0, least_span)
    low, high = float(wanted.min()), float(wanted.max())
    if high - low < least_span:
        middle = (low + high) / 2
        low, high = middle - least_span / 2, middle + least_span / 2
    span = before[1] - before[0]
    if math.isfinite(span) and before[0] <= low and high <= before[1] and high - low > span / 3:
        return before
    room = 0.12 * (high - low)
    step = nice_step((high - low) / 4)
    return math.floor((low - room) / step) * step, math.ceil((high + room) / step) * step


def nice_step(about: float) -> float:
    """The step of 1, 2 or 5 times a power of ten that is the next above ``about`` (> 0)."""
    power = 10.0 ** math.floor(math.log10(about))
    return next(power * nice for nice in _NICE if power * nice >= about * (1 - 1e-9))
