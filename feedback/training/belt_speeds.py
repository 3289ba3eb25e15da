"""Which speed the belt runs at by the treadmill's own word, stretch by stretch (pure).

A change of more than :data:`SPEED_WITHIN_KMH` that lasts begins a new stretch. While the belt gets
faster or slower, steps belong to none: nobody runs at a steady speed then.
"""

from __future__ import annotations

from typing import Final, NamedTuple

from shared.sensor_values import BeltReading, SensorReading
from shared.units import NS_PER_S

SPEED_WITHIN_KMH: Final = 0.25
"""Belt speeds further apart are not compared (cadence changes by 3 to 6 steps/min with 1 km/h:
common range, from memory)."""
SETTLES_NS: Final = 2 * NS_PER_S
"""A speed is a new one once it is held for so long (our choice: two or three readings)."""


def like_speeds(one_kmh: float, other_kmh: float) -> bool:
    """Whether measures at these speeds can be compared."""
    return abs(one_kmh - other_kmh) <= SPEED_WITHIN_KMH + 1e-9


class Stretch(NamedTuple):
    """From here on the belt runs at this speed."""

    begin_ns: int
    speed_kmh: float
    """As the machine says."""
    counts_as_kmh: float
    """The first like speed of the session, so that like is put with like."""


class BeltSpeeds:
    """Takes in what the treadmill says, in its order. Where it falls silent its last word holds."""

    def __init__(self) -> None:
        self.stretches: list[Stretch] = []
        self._known: list[float] = []
        self._newest_kmh = 0.0
        self._held: tuple[float, int] | None = None
        """A speed near which the belt has been, and since when."""

    def set_to(self, speed_kmh: float | None) -> None:
        """The belt is to be set to this speed: a like one that is read counts as this."""
        if speed_kmh is not None and not any(like_speeds(speed_kmh, one) for one in self._known):
            self._known.append(speed_kmh)

    def take(self, reading: SensorReading) -> None:
        """Take in one reading; only the belt's speed is looked at."""
        if not isinstance(reading, BeltReading) or reading.speed_kmh is None:
            return
        self._settle(reading.at_ns)
        self._newest_kmh = reading.speed_kmh
        if self._held is None or not like_speeds(reading.speed_kmh, self._held[0]):
            self._held = (reading.speed_kmh, reading.at_ns)

    def now(self, at_ns: int) -> tuple[float | None, bool]:
        """The speed that steps at ``at_ns`` count as, in km/h, and whether the belt is steady.

        No speed where the machine has not said one yet.
        """
        self._settle(at_ns)
        if not self.stretches:
            return None, True
        newest = self.stretches[-1]
        steady = self._held is None or like_speeds(self._newest_kmh, newest.speed_kmh)
        return newest.counts_as_kmh, steady

    def _settle(self, at_ns: int) -> None:
        if self._held is None or at_ns - self._held[1] < SETTLES_NS:
            return
        speed, begin_ns = self._newest_kmh, self._held[1]
        if self.stretches and like_speeds(speed, self.stretches[-1].speed_kmh):
            return
        near = [one for one in self._known if like_speeds(speed, one)]
        counts_as = min(near, key=lambda one: abs(one - speed)) if near else speed
        if not near:
            self._known.append(speed)
        self.stretches.append(Stretch(begin_ns, speed, counts_as))
