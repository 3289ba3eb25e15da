"""A session's single values of the measures that it aimed at, packed small for the store (pure).

So that a report made at another station, which has no journal of the session, can still draw the
values by step. Times are kept to 10 ms and values to a hundredth of what the catalogue shows: finer
than any chart.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator, Sequence
from itertools import accumulate, pairwise
from typing import Final

import msgspec

from feedback.records.summary import Digest, ValueAtStep
from shared.catalogue import CATALOGUE
from shared.flow import Side

TIMES_PER_S: Final = 100
MORE_DECIMALS: Final = 2
"""Beyond those that the catalogue shows."""


class PackedRow(msgspec.Struct, frozen=True, kw_only=True, array_like=True):
    """One measure and side; every list holds the first number and then the differences."""

    measure: str
    side: Side | None
    unit: str
    decimals: int
    times: tuple[int, ...]
    """In hundredths of a second from the start of the run."""
    steps: tuple[int, ...]
    """Step numbers."""
    values: tuple[int, ...]
    """Times ten to the power of ``decimals``."""


def pack(digest: Digest, points: Sequence[ValueAtStep]) -> bytes:
    """The values of the measures that the session aimed at; empty where it aimed at none."""
    targets = [*digest.first_targets, *(target for goal in digest.goals for target in goal.targets)]
    targets += [change.target for change in digest.changes]
    aimed = {(target.measure, target.unit) for target in targets}
    kept: dict[tuple[str, Side | None, str], list[ValueAtStep]] = {}
    for point in points:
        if (point.measure, point.unit) in aimed:
            kept.setdefault((point.measure, point.side, point.unit), []).append(point)
    rows = [_row(own) for own in kept.values()]
    return zlib.compress(msgspec.msgpack.encode(rows), 9) if rows else b""


def unpack(packed: bytes) -> tuple[ValueAtStep, ...]:
    """The values again, in the order of time. Raises ValueError for what is no trace."""
    if not packed:
        return ()
    try:
        rows = msgspec.msgpack.decode(zlib.decompress(packed), type=tuple[PackedRow, ...])
        points = [point for row in rows for point in _points(row)]
    except (zlib.error, msgspec.DecodeError) as error:
        raise ValueError("not a trace of a session") from error
    return tuple(sorted(points, key=lambda point: point.at_s))


def _row(points: Sequence[ValueAtStep]) -> PackedRow:
    first = points[0]
    decimals = CATALOGUE[first.measure].decimals + MORE_DECIMALS
    return PackedRow(
        measure=first.measure,
        side=first.side,
        unit=first.unit,
        decimals=decimals,
        times=_differences(round(point.at_s * TIMES_PER_S) for point in points),
        steps=_differences(point.step_number for point in points),
        values=_differences(round(point.value * 10**decimals) for point in points),
    )


def _points(row: PackedRow) -> Iterator[ValueAtStep]:
    for time, step, value in zip(
        accumulate(row.times), accumulate(row.steps), accumulate(row.values), strict=True
    ):
        yield ValueAtStep(
            at_s=time / TIMES_PER_S,
            measure=row.measure,
            side=row.side,
            unit=row.unit,
            value=value / 10**row.decimals,
            step_number=step,
        )


def _differences(numbers: Iterable[int]) -> tuple[int, ...]:
    listed = list(numbers)
    return tuple(listed[:1] + [after - before for before, after in pairwise(listed)])
