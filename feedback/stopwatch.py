"""Running time of a session, without its pauses (pure)."""

from __future__ import annotations


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
