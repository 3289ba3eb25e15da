"""What treadmill and strap said over a session, for its report (pure)."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from statistics import fmean
from typing import Final

from feedback.journal.entries import Entry, SensorEntry
from feedback.records.summary import BeltStretch, SensorSummary, SensorTrace
from feedback.safety.sensors import AGAIN_NS, RUNS_KMH, STALE_NS
from feedback.training.belt_speeds import Stretch
from shared.sensor_values import BeltReading, HeartReading, LinkReading, SensorKind
from shared.targets import Limits
from shared.units import NS_PER_S

GAP_NS: Final = AGAIN_NS + STALE_NS
"""An unchanged value is on record every few seconds: after a longer time it was not heard."""
MOST_POINTS: Final = 600
"""Of one trace; more cannot be told apart on paper."""
Values = list[tuple[int, float | None]]
"""(Nanoseconds, value), in order; None from where the sensor was lost."""


def sensor_summary(
    entries: Sequence[Entry],
    stretches: Sequence[Stretch],
    limits: Limits,
    zero_ns: int,
    last_ns: int,
) -> SensorSummary | None:
    """From the start of the run at ``zero_ns`` to the end at ``last_ns``; None without a sensor."""
    belt, incline, heart = _values(entries)
    if not belt and not incline and not heart:
        return None
    kept = (
        ("belt_speed", _trace(belt, zero_ns, last_ns, held=True)),
        ("heart_rate", _trace(heart, zero_ns, last_ns, held=False)),
    )
    return SensorSummary(
        traces=tuple(SensorTrace(name=name, parts=parts) for name, parts in kept if parts),
        stretches=tuple(_stretches(stretches, incline, heart, zero_ns, last_ns)),
        heart_warn_bpm=limits.heart_rate_warn_bpm,
        heart_end_bpm=limits.heart_rate_end_bpm,
    )


def _values(entries: Sequence[Entry]) -> tuple[Values, Values, Values]:
    belt: Values = []
    incline: Values = []
    heart: Values = []
    for entry in entries:
        if not isinstance(entry, SensorEntry):
            continue
        match entry.reading:
            case BeltReading(at_ns=at_ns, speed_kmh=speed, incline_percent=slope):
                belt += [] if speed is None else [(at_ns, speed)]
                incline += [] if slope is None else [(at_ns, slope)]
            case HeartReading(at_ns=at_ns, rate_bpm=rate):
                heart.append((at_ns, float(rate)))
            case LinkReading(at_ns=at_ns, sensor=SensorKind.TREADMILL, reached=False) if belt:
                belt.append((at_ns, None))
            case LinkReading(at_ns=at_ns, sensor=SensorKind.HEART_STRAP, reached=False) if heart:
                heart.append((at_ns, None))
    return belt, incline, heart


def _trace(
    values: Values, zero_ns: int, last_ns: int, *, held: bool
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Unbroken parts; ``held``: a value stands till the next one, as that of a belt does."""
    parts: list[list[tuple[float, float]]] = []
    before: tuple[int, float] | None = None
    for at_ns, value in values:
        if not zero_ns <= at_ns <= last_ns:
            continue
        if value is None:
            before = None
            continue
        if before is None or at_ns - before[0] > GAP_NS:
            parts.append([])
        elif held and value != before[1]:
            parts[-1].append(((at_ns - zero_ns) / NS_PER_S, before[1]))
        parts[-1].append(((at_ns - zero_ns) / NS_PER_S, value))
        before = (at_ns, value)
    every = math.ceil(sum(map(len, parts)) / MOST_POINTS)
    return tuple(_thinned(part, every) for part in parts)


def _thinned(part: list[tuple[float, float]], every: int) -> tuple[tuple[float, float], ...]:
    """Every so many points, and the last."""
    found = part[:: max(1, every)]
    return tuple(found if found[-1] == part[-1] else [*found, part[-1]])


def _stretches(
    stretches: Sequence[Stretch], incline: Values, heart: Values, zero_ns: int, last_ns: int
) -> Iterable[BeltStretch]:
    ends = [*(one.begin_ns for one in stretches), last_ns][1:]
    for one, end_ns in zip(stretches, ends, strict=True):
        begin_ns = max(one.begin_ns, zero_ns)
        if one.speed_kmh < RUNS_KMH or end_ns <= begin_ns:
            continue
        # a belt's incline holds till it says another one
        slopes = [slope for at_ns, slope in incline if slope is not None and at_ns <= begin_ns][-1:]
        slopes += _within(incline, begin_ns, end_ns)
        rates = _within(heart, begin_ns, end_ns)
        yield BeltStretch(
            begin_s=(begin_ns - zero_ns) / NS_PER_S,
            end_s=(end_ns - zero_ns) / NS_PER_S,
            speed_kmh=one.speed_kmh,
            incline_percent=(min(slopes), max(slopes)) if slopes else None,
            heart_bpm=fmean(rates) if rates else None,
        )


def _within(values: Values, begin_ns: int, end_ns: int) -> list[float]:
    return [value for at_ns, value in values if value is not None and begin_ns <= at_ns < end_ns]
