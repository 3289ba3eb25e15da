"""A person's sessions as rows, and each measure's series over real dates (pure).

For the progress page and for any screen that lists sessions or draws what became of a measure.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

import msgspec

from feedback.records.comparing import Reference
from feedback.records.summary import Digest
from feedback.records.trends import Trend, comparable, trends
from shared.flow import Side, View
from shared.targets import SessionKind

DAY_S: Final = 24 * 3600.0
MOST_TICKS: Final = 8
TICK_DAYS: Final = (1, 2, 7, 14)
TICK_MONTHS: Final = (1, 2, 3, 6, 12, 24, 60, 120)
DAYS_OF_A_MONTH: Final = 28


class SessionOf(msgspec.Struct, frozen=True, kw_only=True):
    """One session as a row."""

    uid: str
    started_utc: str
    counts_as: str
    """As :attr:`feedback.records.summary.CountsAs.counts_as`."""
    kind: SessionKind | None
    number: int | None
    """In its plan."""
    view: View
    belt_speed_kmh: float | None
    run_s: float
    steps: int
    pain_worst: int | None
    effort_last: int | None


class SeriesPoint(msgspec.Struct, frozen=True, kw_only=True):
    """The mean of one measure over a session's steps with cues, or over those without."""

    uid: str
    started_utc: str
    mean: float
    half_width: float | None
    """Of the mean's 90 % interval; None where it is not known."""
    cued: bool
    kind: SessionKind | None


class MeasureSeries(msgspec.Struct, frozen=True, kw_only=True):
    """One measure over the sessions of one view and like belt speeds, the oldest first."""

    measure: str
    side: Side | None
    unit: str
    points: tuple[SeriesPoint, ...]
    reference: Reference | None
    """The baseline, or what stands in for it."""
    low: float | None
    """Edges of the final target band; None: it has none there."""
    high: float | None


class Conditions(msgspec.Struct, frozen=True, kw_only=True):
    """Under which sessions can be compared."""

    view: View
    belt_speed_kmh: float


def session_rows(digests: Sequence[Digest]) -> tuple[SessionOf, ...]:
    """Every session as a row, in the order given."""
    names = SessionOf.__struct_fields__
    return tuple(SessionOf(**{name: getattr(one, name) for name in names}) for one in digests)


def conditions(digests: Sequence[Digest]) -> tuple[Conditions, ...]:
    """Views and speeds with a session that counts, those of the newest session first."""
    found = (
        Conditions(view=one.view, belt_speed_kmh=one.belt_speed_kmh)
        for one in reversed(digests)
        if one.counts and one.belt_speed_kmh is not None
    )
    return tuple(dict.fromkeys(found))


def measure_series(digests: Sequence[Digest], under: Conditions) -> tuple[MeasureSeries, ...]:
    """Every measure over the sessions that can be compared, those aimed at first.

    ``digests`` are one athlete's, the oldest first.
    """
    compared = comparable(digests, under.view, under.belt_speed_kmh)
    return tuple(_series(trend, compared[-1]) for trend in trends(compared))


def _series(trend: Trend, newest: Digest) -> MeasureSeries:
    goal = newest.goal_of(trend.measure, trend.side, trend.unit)
    return MeasureSeries(
        measure=trend.measure,
        side=trend.side,
        unit=trend.unit,
        points=tuple(_points(trend)),
        reference=trend.reference,
        low=None if goal is None else goal.targets[-1].low,
        high=None if goal is None else goal.targets[-1].high,
    )


def _points(trend: Trend) -> Iterator[SeriesPoint]:
    for level in trend.levels:
        for mean, cued in ((level.cued, True), (level.uncued, False)):
            if mean is not None:
                yield SeriesPoint(
                    uid=level.uid,
                    started_utc=level.started_utc,
                    mean=mean.mean,
                    half_width=mean.half_width,
                    cued=cued,
                    kind=level.kind,
                )


# dates on an axis


def days_since_first(started_utc: Sequence[str]) -> list[float]:
    """Each moment as days since the first."""
    dates = [datetime.fromisoformat(one) for one in started_utc]
    return [(when - dates[0]).total_seconds() / DAY_S for when in dates]


def date_ticks(started_utc: Sequence[str]) -> list[tuple[float, datetime]]:
    """Round local dates from the first session to the last, each with its days since the first.

    Days, weeks or firsts of months, so that there are few enough to be read; of sessions that are
    all on one day, that day.
    """
    if not started_utc:
        return []
    first, last = (datetime.fromisoformat(started_utc[at]).astimezone() for at in (0, -1))
    begin = first.replace(hour=0, minute=0, second=0, microsecond=0)
    span = (last - begin) / timedelta(days=1)
    step = next((days for days in TICK_DAYS if span / days <= MOST_TICKS), None)
    ticks = _days(begin, last, step) if step else _months(begin, last, span)
    found = [((when - first).total_seconds() / DAY_S, when) for when in ticks]
    # Midnight before the first session stands for its day.
    return [(max(0.0, at), when) for at, when in found]


def _days(begin: datetime, last: datetime, step: int) -> Iterator[datetime]:
    count = int((last - begin) / timedelta(days=step))
    for number in range(count + 1):
        yield begin + timedelta(days=step * number)


def _months(begin: datetime, last: datetime, span_days: float) -> Iterator[datetime]:
    """Firsts of months after the first session."""
    step = next(
        (n for n in TICK_MONTHS if span_days / (n * DAYS_OF_A_MONTH) <= MOST_TICKS + 1),
        TICK_MONTHS[-1],
    )
    number = begin.year * 12 + begin.month
    while (when := begin.replace(year=number // 12, month=number % 12 + 1, day=1)) <= last:
        yield when
        number += step
