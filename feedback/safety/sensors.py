"""What the treadmill and the straps say, and what of it pauses, warns or ends (pure).

They are only listened to. A sensor that is lost changes nothing but what is shown: the session was
begun without needing it.
"""

from __future__ import annotations

from typing import Final

import msgspec

from feedback.journal.entries import SensorEntry
from feedback.texts.runner import number
from shared.messages import SensorValue, StopReason
from shared.problems import Problem, describe
from shared.sensor_values import (
    BeltReading,
    HeartReading,
    LinkReading,
    MachineReading,
    MachineState,
    PodReading,
    SensorKind,
    SensorReading,
)
from shared.targets import Limits
from shared.units import NS_PER_S

STALE_NS: Final = 5 * NS_PER_S
"""Machines and straps send once a second or more often (common practice, no source)."""
HEART_HELD_NS: Final = 5 * NS_PER_S
"""A heart rate counts as over a limit after so long: a strap that slips shows single jumps (our
choice)."""
HEART_AGAIN_NS: Final = 30 * NS_PER_S
AGAIN_NS: Final = 5 * NS_PER_S
"""An unchanged value is put on record again after so long."""
STANDS_KMH: Final = 0.3
RUNS_KMH: Final = 1.0
SPEEDS_APART: Final = 0.08
"""More than this between machine and picture: one of them is wrong (our choice: the picture's
speed is right to 3 % where the height is)."""
FLAT_PERCENT: Final = 1.0
"""Up to this incline running is taken as flat (common practice, no source)."""
_STOPS: Final = frozenset({MachineState.STOPPED, MachineState.PAUSED})
_KIND: Final = {
    BeltReading: SensorKind.TREADMILL,
    MachineReading: SensorKind.TREADMILL,
    HeartReading: SensorKind.HEART_STRAP,
    PodReading: SensorKind.FOOT_POD,
}


def is_inclined(incline_percent: float) -> bool:
    """Whether it is no flat running any more, uphill or downhill."""
    return round(abs(incline_percent), 1) > FLAT_PERCENT


class Sensed(msgspec.Struct, frozen=True, kw_only=True):
    """What a reading calls for."""

    stop: StopReason | None = None
    pause: bool = False
    """The belt stands: rest until somebody goes on."""
    warn: bool = False
    """The heart rate is over its first limit: ease off."""
    journal: tuple[SensorEntry, ...] = ()


class SensorWatch:
    """Follows what the sensors say during one session."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._newest: dict[type[SensorReading], SensorReading] = {}
        self._written: dict[type[SensorReading], SensorReading] = {}
        self._reached: dict[SensorKind, bool] = {}
        self._moved = False
        """The belt was seen to run since it last stood."""
        self._over: dict[int, int] = {}
        """Since when the heart rate is over each limit."""
        self._warned_ns: int | None = None
        self._heart_ns: int | None = None

    def take(self, reading: SensorReading) -> Sensed:
        """Take in one reading and say what it calls for."""
        journal = self._record(reading)
        self._newest[type(reading)] = reading
        match reading:
            case LinkReading(sensor=sensor, reached=reached):
                self._reached[sensor] = reached
                return Sensed(journal=journal)
            case MachineReading(state=MachineState.SAFETY_KEY):
                self._moved = False
                return Sensed(stop=StopReason.SAFETY_KEY, journal=journal)
            case MachineReading(state=state):
                return Sensed(pause=state in _STOPS, journal=journal)
            case BeltReading(speed_kmh=float(speed)):
                stands = self._moved and speed <= STANDS_KMH
                self._moved = speed >= RUNS_KMH or (self._moved and not stands)
                return Sensed(pause=stands, journal=journal)
            case HeartReading():
                return self._heart(reading, journal)
            case _:
                return Sensed(journal=journal)

    def belt_speed_kmh(self, now_ns: int) -> float | None:
        """As the machine says now; None while it says nothing."""
        belt = self._fresh(BeltReading, now_ns)
        return belt.speed_kmh if isinstance(belt, BeltReading) else None

    def values(self, now_ns: int) -> tuple[SensorValue, ...]:
        """What is shown of each sensor that was asked for."""
        shown: list[SensorValue] = []
        if SensorKind.TREADMILL in self._reached:
            belt = self._fresh(BeltReading, now_ns)
            speed = belt.speed_kmh if isinstance(belt, BeltReading) else None
            incline = belt.incline_percent if isinstance(belt, BeltReading) else None
            shown.append(SensorValue(name="belt_speed", value=speed, unit="km/h"))
            shown.append(SensorValue(name="incline", value=incline, unit="%"))
        if SensorKind.HEART_STRAP in self._reached:
            heart = self._fresh(HeartReading, now_ns)
            rate = float(heart.rate_bpm) if isinstance(heart, HeartReading) else None
            shown.append(SensorValue(name="heart_rate", value=rate, unit="1/min"))
        if SensorKind.FOOT_POD in self._reached:
            pod = self._fresh(PodReading, now_ns)
            cadence = pod.cadence_spm if isinstance(pod, PodReading) else None
            spm = None if cadence is None else float(cadence)
            shown.append(SensorValue(name="pod_cadence", value=spm, unit="steps/min"))
        return tuple(shown)

    def problems(self, now_ns: int, picture_kmh: float | None) -> tuple[Problem, ...]:
        """Sensors that are not heard, an incline, and a belt speed the picture contradicts."""
        found = [describe(f"{kind}_lost") for kind, reached in self._reached.items() if not reached]
        belt = self._fresh(BeltReading, now_ns)
        incline = belt.incline_percent if isinstance(belt, BeltReading) else None
        if incline is not None and is_inclined(incline):
            found.append(describe("belt_inclined", incline=number(incline, 1)))
        said = self.belt_speed_kmh(now_ns)
        if said is not None and picture_kmh is not None and said >= RUNS_KMH:
            apart = abs(picture_kmh - said) / said
            if apart > SPEEDS_APART:
                found.append(
                    describe(
                        "belt_speeds_differ", said=number(said, 1), seen=number(picture_kmh, 1)
                    )
                )
        return tuple(found)

    def _heart(self, reading: HeartReading, journal: tuple[SensorEntry, ...]) -> Sensed:
        before_ns, self._heart_ns = self._heart_ns, reading.at_ns
        if before_ns is None or reading.at_ns - before_ns > STALE_NS:
            self._over.clear()  # what was not heard is not held against the runner
        limits = (self._limits.heart_rate_end_bpm, self._limits.heart_rate_warn_bpm)
        held = [False, False]
        for place, limit in enumerate(limits):
            if limit is None or reading.rate_bpm <= limit:
                self._over.pop(place, None)
                continue
            since_ns = self._over.setdefault(place, reading.at_ns)
            held[place] = reading.at_ns - since_ns >= HEART_HELD_NS
        if held[0]:
            return Sensed(stop=StopReason.HEART_RATE, journal=journal)
        due = self._warned_ns is None or reading.at_ns - self._warned_ns >= HEART_AGAIN_NS
        if held[1] and due:
            self._warned_ns = reading.at_ns
            return Sensed(warn=True, journal=journal)
        return Sensed(journal=journal)

    def warns(self, now_ns: int) -> bool:
        """Whether the heart rate is over its first limit now."""
        fresh = self._heart_ns is not None and now_ns - self._heart_ns <= STALE_NS
        since_ns = self._over.get(1)
        return fresh and since_ns is not None and now_ns - since_ns >= HEART_HELD_NS

    def _fresh(self, kind: type[SensorReading], now_ns: int) -> SensorReading | None:
        newest = self._newest.get(kind)
        sensor = _KIND.get(kind)
        if newest is None or now_ns - newest.at_ns > STALE_NS:
            return None
        return newest if sensor is None or self._reached.get(sensor, True) else None

    def _record(self, reading: SensorReading) -> tuple[SensorEntry, ...]:
        kind = type(reading)
        before = self._written.get(kind)
        if (
            before is not None
            and reading.at_ns - before.at_ns < AGAIN_NS
            and msgspec.structs.replace(before, at_ns=reading.at_ns) == reading
        ):
            return ()
        self._written[kind] = reading
        return (SensorEntry(reading=reading),)
