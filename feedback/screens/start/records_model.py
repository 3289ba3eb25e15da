"""What the records page shows, from what ``beltside records NAME --json`` prints."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any, Final

import msgspec

from feedback.texts.numbers import minutes_and_seconds
from feedback.texts.profile_fields import choice_title
from shared.language import _, mark

_KINDS: Final = {
    "baseline": mark("baseline, without cues"),
    "trial": mark("trial, does not count"),
    "practice": mark("practice"),
    "retention": mark("check, no cues"),
    "reminder": mark("check, one reminder"),
}


class Session(msgspec.Struct, frozen=True, kw_only=True):
    """One line of the table."""

    number: int
    utc: str
    what: str
    view: str
    belt_speed_kmh: float | None
    run_s: float
    steps: int
    pain: int | None
    effort: int | None

    @property
    def day(self) -> str:
        """Such as 2026-11-30 10:42, in this computer's time zone."""
        return f"{datetime.fromisoformat(self.utc).astimezone():%Y-%m-%d %H:%M}"

    @property
    def kind(self) -> str:
        """What it was, in words."""
        return _(_KINDS.get(self.what, "session"))

    @property
    def place(self) -> str:
        """Where the camera stood."""
        return choice_title(self.view)

    @property
    def length(self) -> str:
        """Minutes and seconds."""
        return minutes_and_seconds(round(self.run_s))


class Value(msgspec.Struct, frozen=True, kw_only=True):
    """A mean, and half of its 90 % interval where that is known."""

    value: float
    half: float | None


class Own(msgspec.Struct, frozen=True, kw_only=True):
    """The runner's own value that is compared with."""

    value: float
    half: float | None
    words: str


class Point(msgspec.Struct, frozen=True, kw_only=True):
    """One session in a chart."""

    utc: str
    cued: Value | None
    uncued: Value | None

    @property
    def at_s(self) -> float:
        """Its moment, in seconds."""
        return datetime.fromisoformat(self.utc).timestamp()


class Series(msgspec.Struct, frozen=True, kw_only=True):
    """One measure over all sessions that can be compared."""

    title: str
    unit: str
    decimals: int
    own: Own | None
    points: tuple[Point, ...]


class Records(msgspec.Struct, frozen=True, kw_only=True):
    """All that is shown of one person."""

    id: str
    code_name: str
    files: int
    sessions: tuple[Session, ...]
    view: str | None
    belt_speed_kmh: float | None
    trends: tuple[Series, ...]


def records_of(data: Any) -> Records | None:
    """The records; None for what is none."""
    try:
        return msgspec.convert(data, Records)
    except msgspec.ValidationError:
        return None


def span(series: Series) -> tuple[float, float]:
    """The lowest and highest value to be drawn, uncertainty and own value included."""
    found = []
    for point in series.points:
        for one in (point.cued, point.uncued):
            if one is not None:
                found += [one.value - (one.half or 0), one.value + (one.half or 0)]
    if series.own is not None:
        half = series.own.half or 0
        found += [series.own.value - half, series.own.value + half]
    if not found:
        return 0.0, 1.0
    low, high = min(found), max(found)
    room = (high - low) * 0.12 or max(abs(high) * 0.02, 0.5)
    return low - room, high + room


def ticks(low: float, high: float, wanted: int = 5) -> tuple[float, ...]:
    """Round values from ``low`` to ``high``, about so many."""
    raw = (high - low) / max(1, wanted)
    power = 10.0 ** math.floor(math.log10(raw))
    size = next(part * power for part in (1, 2, 5, 10) if part * power >= raw)
    first = math.ceil(low / size)
    last = math.floor(high / size)
    return tuple(round(number * size, 6) for number in range(first, last + 1))
