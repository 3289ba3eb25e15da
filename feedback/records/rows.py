"""From the store's rows to values; a row that holds what cannot be is told from the others."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Final, TypeVar

import msgspec

from feedback.records.summary import Digest, MeanValue
from shared.catalogue import CATALOGUE
from shared.language import _

T = TypeVar("T")
_MOST: Final = 1e9
"""No value, spread or count of ours comes near; far beyond it squares and charts fail."""
_EARLIEST_YEAR: Final = 1900
_DIGESTS: Final = msgspec.json.Decoder(Digest)
_BROKEN: Final = (msgspec.MsgspecError, ValueError, OverflowError, RecursionError)


class DamagedRowError(ValueError):
    """A row of the store that no version of ours would have written."""


def digest_of(content: bytes) -> Digest:
    """The digest of a session. Raises DamagedRowError."""
    try:
        found = _DIGESTS.decode(content)
        check(found)
    except _BROKEN as error:
        raise DamagedRowError(str(error)) from error
    return found


def check(digest: Digest) -> None:
    """That it holds nothing beyond all limits. Raises ValueError."""
    _check(_numbers_of(digest), digest.started_utc)
    if unknown := set(_measures_of(digest)) - set(CATALOGUE):
        raise ValueError(_('there is no measure "{name}"').format(name=min(unknown)))


def row_of(row: Mapping[str, Any], kind: type[T]) -> T:
    """A row as a value; its numbers are within reason. Raises DamagedRowError."""
    try:
        _check(_plain_numbers(row.values()), row["started_utc"])
        return msgspec.convert(dict(row), kind)
    except _BROKEN as error:
        raise DamagedRowError(str(error)) from error


def _check(numbers: Iterator[float], started_utc: str) -> None:
    for number in numbers:
        if not (math.isfinite(number) and abs(number) <= _MOST):
            raise ValueError(_("{number} is beyond all limits").format(number=f"{number:g}"))
    if datetime.fromisoformat(started_utc).year < _EARLIEST_YEAR:
        raise ValueError(_("its date is beyond all limits"))


def _numbers_of(digest: Digest) -> Iterator[float]:
    yield from _plain_numbers([digest.run_s, digest.steps, digest.number, digest.belt_speed_kmh])
    for mean in _all_means(digest):
        yield from _plain_numbers(getattr(mean, name) for name in MeanValue.__struct_fields__)
    yield from _plain_numbers(one.belt_speed_kmh for one in digest.other_speeds)
    if digest.sensors is not None:
        for trace in digest.sensors.traces:
            for part in trace.parts:
                yield from (number for point in part for number in point)
        for stretch in digest.sensors.stretches:
            yield from (stretch.begin_s, stretch.end_s, stretch.speed_kmh)
            yield from stretch.incline_percent or ()
            yield from _plain_numbers([stretch.heart_bpm])


def _all_means(digest: Digest) -> Iterator[MeanValue]:
    yield from digest.means
    for other in digest.other_speeds:
        yield from other.means


def _measures_of(digest: Digest) -> Iterator[str]:
    """Every measure that a page would look up."""
    yield from (mean.measure for mean in _all_means(digest))
    yield from (kept.measure for kept in digest.targets)
    yield from (target.measure for target in digest.first_targets)
    yield from (change.target.measure for change in digest.changes)
    yield from (target.measure for goal in digest.goals for target in goal.targets)


def _plain_numbers(values: Any) -> Iterator[float]:
    for value in values:
        if isinstance(value, Mapping):
            yield from _plain_numbers(value.values())
        elif isinstance(value, int | float):
            yield value
