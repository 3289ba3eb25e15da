"""Running time of a session, without its pauses (pure)."""

from __future__ import annotations

from collections import deque
from statistics import median
from typing import Final

KEPT: Final = 100


class Latencies:
    """The newest latencies, and their median."""

    def __init__(self) -> None:
        self._newest_ns: deque[int] = deque(maxlen=KEPT)

    def add(self, latency_ns: int) -> None:
        """Take one more in."""
        self._newest_ns.append(latency_ns)

    @property
    def median_ms(self) -> float | None:
        """None while there are none."""
        return median(self._newest_ns) / 1e6 if self._newest_ns else None


class Stopwatch:
    """Counts while it goes; all instants are passed in, as integer nanoseconds."""

    def __init__(self) -> None:
        self._before_ns = 0
        self._since_ns: int | None = None

    def go(self, now_ns: int) -> None:
        """Begin, or go on after a halt."""
        if self._since_ns is None:
            self._since_ns = now_ns

    def halt(self, now_ns: int) -> None:
        """Stand still from now on."""
        self._before_ns = self.elapsed_ns(now_ns)
        self._since_ns = None

    def elapsed_ns(self, now_ns: int) -> int:
        """How long it has gone in all."""
        if self._since_ns is None:
            return self._before_ns
        return self._before_ns + max(0, now_ns - self._since_ns)
