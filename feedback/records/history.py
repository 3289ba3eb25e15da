"""What became of a person's measures over real dates (pure).

For the progress page and for any screen that draws it. The rows of a list of sessions are their
summaries themselves (:class:`feedback.records.summary.Digest`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

import msgspec

from feedback.records.summary import Digest
from feedback.records.trends import Trend, comparable, trends
from shared.flow import View

DAY_S: Final = 24 * 3600.0
MOST_TICKS: Final = 8
TICK_DAYS: Final = (1, 2, 7, 14)
TICK_MONTHS: Final = (1, 2, 3, 6, 12, 24, 60, 120)
DAYS_OF_A_MONTH: Final = 28


class Conditions(msgspec.Struct, frozen=True, kw_only=True):
    """Under which sessions can be compared."""

    view: View
    belt_speed_kmh: float


def conditions(digests: Sequence[Digest]) -> tuple[Conditions, ...]:
    """Views and speeds with a session that counts, those of the newest session first.

    Of a session at several speeds that which most was measured at comes first.
    """
    found = (
        Conditions(view=one.view, belt_speed_kmh=speed)
        for one in reversed(digests)
        if one.counts
        for speed in one.speeds_kmh
    )
    return tuple(dict.fromkeys(found))


def measure_series(digests: Sequence[Digest], under: Conditions) -> tuple[Trend, ...]:
    """Every measure over the sessions that can be compared, those aimed at first.

    ``digests`` are one athlete's, the oldest first. A trend's levels are dated, and hold the means
    of the steps with cues and of those without, each with its uncertainty.
    """
    return trends(comparable(digests, under.view, under.belt_speed_kmh))


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
