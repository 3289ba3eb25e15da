"""Numbers the values that charts draw, so that a screen can tell what it has missed (pure)."""

from __future__ import annotations

from collections.abc import Iterable

from shared.flow import Measure
from shared.messages import Point


class Charting:
    """Makes points of measures, in their order, numbered from 1 without gaps."""

    def __init__(self) -> None:
        self._count = 0

    def take(self, measures: Iterable[Measure]) -> tuple[Point, ...]:
        """The points of these measures."""
        return tuple(self._point(measure) for measure in measures)

    def _point(self, measure: Measure) -> Point:
        self._count += 1
        return Point(
            number=self._count,
            at_ns=measure.at_ns,
            step_number=measure.step_number,
            name=measure.name,
            side=measure.side,
            value=measure.value,
            unit=measure.unit,
            percent_leg=measure.percent_leg,
            uncertainty=measure.uncertainty,
            quality=measure.quality,
        )
