"""Which values of a session count, and for which part of it: one rule for all its means (pure).

The terminal at the end, the record's summary, the report and a result from home take in what comes
out here, and so agree. What counts: a usable value (:mod:`shared.usable`), while running, and while
nothing is in doubt.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from enum import StrEnum
from typing import Final, NamedTuple

import msgspec

from feedback.journal.entries import (
    BlockEntry,
    Entry,
    MeasureEntry,
    ProblemEntry,
    SensorEntry,
    StateEntry,
)
from feedback.training.belt_speeds import BeltSpeeds
from shared.catalogue import CATALOGUE
from shared.flow import Measure, Side
from shared.messages import SessionState
from shared.problems import DOUBTS
from shared.targets import Athlete, BlockKind
from shared.usable import usable

FEWEST_VALUES: Final = 4
"""Fewer values of a measure have no mean worth keeping (two strides; common practice)."""


class SessionPart(StrEnum):
    """Which steps of a session stand behind a mean."""

    ALL = "all"
    """Blocks with and without cues; warm-up, rest and cool-down left out."""
    CUED = "cued"
    """Blocks in which the measure itself was cued; for one without a target, any cued block."""
    UNCUED = "uncued"


class Counted(NamedTuple):
    """A value that counts."""

    measure: Measure
    part: SessionPart | None
    """Of the session; None in warm-up, rest and cool-down, and while the belt changes its speed."""
    belt_speed_kmh: float | None
    """What the treadmill said, else what the belt was to be set to."""


class Counting:
    """Takes a session's entries in their order, and says which values count.

    ``running``: whether the run has begun before the first entry.
    """

    def __init__(self, athlete: Athlete, *, running: bool = False) -> None:
        self._aimed = {target.measure for target in athlete.targets}
        self._first = athlete.targets[0].measure if athlete.targets else ""
        self._belt_speed_kmh = athlete.belt_speed_kmh
        self._running = running
        self._doubts: set[str] = set()
        self._block: BlockEntry | None = None
        self.belt = BeltSpeeds()
        """What the treadmill says of its speed."""
        self.belt.set_to(athlete.belt_speed_kmh)

    @property
    def belt_speed_kmh(self) -> float | None:
        """What the belt is to be set to now."""
        block = self._block
        if block is not None and block.belt_speed_kmh is not None:
            return block.belt_speed_kmh
        return self._belt_speed_kmh

    def take(self, entry: Entry) -> Counted | None:
        """Take in one entry; what it holds when it is a value that counts."""
        match entry:
            case StateEntry(state=state):
                self._running = state is SessionState.RUNNING
            case ProblemEntry(problem=problem, over=over) if problem.code in DOUBTS:
                (self._doubts.discard if over else self._doubts.add)(problem.code)
            case BlockEntry():
                self._block = entry
                self.belt.set_to(entry.belt_speed_kmh)
            case SensorEntry(reading=reading):
                self.belt.take(reading)
            case MeasureEntry(measure=measure):
                if self._running and not self._doubts and usable(measure):
                    said_kmh, steady = self.belt.now(measure.at_ns)
                    part = self._part(measure.name) if steady else None
                    speed_kmh = self.belt_speed_kmh if said_kmh is None else said_kmh
                    return Counted(measure, part, speed_kmh)
        return None

    def _part(self, name: str) -> SessionPart | None:
        """While another target is cued, a target's own steps count for the whole session only."""
        if self._block is None:
            cued = self._first
        elif self._block.kind is BlockKind.CUED:
            cued = "" if self._block.cued is None else self._block.cued.measure
        else:
            return SessionPart.UNCUED if self._block.kind is BlockKind.UNCUED else None
        if not cued:
            return SessionPart.UNCUED
        return SessionPart.ALL if name in self._aimed and name != cued else SessionPart.CUED


def main_speed(values: Mapping[float | None, int], otherwise: float | None) -> float | None:
    """The speed that most values were measured at: those at others are left out of the means."""
    return max(values, key=lambda speed: values[speed]) if values else otherwise


class _Sums:
    """Sums of value, uncertainty and quality, without keeping the values: sessions last hours."""

    def __init__(self, first: Measure) -> None:
        self._last = first
        self.count = 0
        self._totals = [0.0, 0.0, 0.0]

    def add(self, measure: Measure) -> None:
        """Take in one more."""
        self._last = measure
        self.count += 1
        for place, figure in enumerate((measure.value, measure.uncertainty, measure.quality)):
            self._totals[place] += figure

    def mean(self) -> Measure:
        """The mean of all, with the newest one's place in time."""
        value, uncertainty, quality = (total / self.count for total in self._totals)
        return msgspec.structs.replace(
            self._last,
            value=value,
            uncertainty=uncertainty,
            quality=quality,
            steps=self.count,
            percent_leg=None,
        )


class SessionMeans:
    """The means over a whole session, as its report has them, gathered while it runs."""

    def __init__(self, athlete: Athlete) -> None:
        self._counting = Counting(athlete)
        self._speeds: dict[float | None, int] = defaultdict(int)
        self._sums: dict[tuple[float | None, str, Side | None, str], _Sums] = {}

    def take(self, entry: Entry) -> None:
        """Take in one entry."""
        counted = self._counting.take(entry)
        if counted is None or counted.part is None:
            return
        measure, speed = counted.measure, counted.belt_speed_kmh
        self._speeds[speed] += 1
        key = (speed, measure.name, measure.side, measure.unit)
        self._sums.setdefault(key, _Sums(measure)).add(measure)

    def means(self) -> tuple[Measure, ...]:
        """Mean of every measure and side; ``steps`` counts the values behind it."""
        speed = main_speed(self._speeds, None)
        found = [
            sums.mean()
            for key, sums in self._sums.items()
            if key[0] == speed and sums.count >= FEWEST_VALUES
        ]
        order = list(CATALOGUE)
        return tuple(sorted(found, key=lambda m: (order.index(m.name), m.unit, m.side or "")))
