"""The one monotonic clock of the station, and its anchor to wall time."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import msgspec

from shared.units import NS_PER_S


def now_ns() -> int:
    """Integer nanoseconds of the monotonic clock that every stamp in Beltside uses.

    On Linux and macOS all processes of one computer read the same clock, so a screen may
    compare its own reading with a stamp made by the station.
    """
    return time.perf_counter_ns()


class ClockAnchor(msgspec.Struct, frozen=True):
    """One instant in both clocks: turns a monotonic stamp into wall time, for records only."""

    monotonic_ns: int
    wall_utc: str
    """ISO 8601, UTC, with microseconds."""

    def wall_of(self, at_ns: int) -> datetime:
        """Wall time (UTC) of a monotonic stamp."""
        anchor = datetime.fromisoformat(self.wall_utc).timestamp()
        return datetime.fromtimestamp(anchor + (at_ns - self.monotonic_ns) / NS_PER_S, tz=UTC)


def anchor_now() -> ClockAnchor:
    """Read both clocks at (nearly) one instant."""
    return ClockAnchor(
        monotonic_ns=now_ns(),
        wall_utc=datetime.now(tz=UTC).isoformat(timespec="microseconds"),
    )
