"""The clock and its anchor to wall time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from shared.clock import ClockAnchor, anchor_now, now_ns

NS = 1_000_000_000


def test_the_clock_only_goes_forward() -> None:
    stamps = [now_ns() for _ in range(1000)]
    assert stamps == sorted(stamps)
    assert isinstance(stamps[0], int)


def test_a_stamp_becomes_wall_time() -> None:
    anchor = ClockAnchor(100 * NS, "2025-03-04T05:06:07.250000+00:00")
    assert anchor.wall_of(100 * NS) == datetime(2025, 3, 4, 5, 6, 7, 250_000, tzinfo=UTC)
    assert anchor.wall_of(101 * NS + 500_000_000).second == 8
    assert anchor.wall_of(40 * NS).minute == 5


@given(st.integers(-(10**15), 10**15))
def test_wall_time_keeps_distances_to_the_microsecond(distance_ns: int) -> None:
    anchor = ClockAnchor(10**16, "2025-03-04T05:06:07.000000+00:00")
    gone = anchor.wall_of(10**16 + distance_ns) - anchor.wall_of(10**16)
    assert abs(gone - timedelta(microseconds=distance_ns / 1000)) <= timedelta(microseconds=2)


def test_the_anchor_is_of_now_and_survives_the_record() -> None:
    before = datetime.now(tz=UTC)
    anchor = anchor_now()
    after = datetime.now(tz=UTC)
    slack = timedelta(milliseconds=50)
    assert before - slack <= anchor.wall_of(anchor.monotonic_ns) <= after + slack
    assert msgspec.json.decode(msgspec.json.encode(anchor), type=ClockAnchor) == anchor
