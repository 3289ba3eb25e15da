"""Judge how frames come: is the next one worth waiting for, and are there enough."""

from __future__ import annotations

from collections import deque
from statistics import median_low
from typing import Final

from shared.units import NS_PER_MS, NS_PER_S

_KEPT: Final = 15
"""Frames that the usual times are taken from: the middle one, so that no hiccup counts."""
_LONGEST_NS: Final = 20 * NS_PER_MS
"""With fewer than 50 frames a second none is passed over: each of them counts there."""
_ENOUGH_NS: Final = NS_PER_S // 30
"""A slow computer passes frames over where it measures 30 a second even so."""

LOW_PER_S, ENOUGH_PER_S = 22.0, 23.0
"""24 a second is the slowest rate at which the timing of contacts was checked; one or two less for
frames that are late."""
LOW_FOR_NS: Final = 3 * NS_PER_S
"""So long it must be low: a camera begins slowly, and none comes for a moment when it is lost."""


class CameraRate:
    """Notices a camera that gives too few pictures a second for good timing."""

    def __init__(self) -> None:
        self._since_ns: int | None = None
        self.low_per_s: float | None = None
        """The rate that was found too low; None while it is high enough, or not known."""

    def add(self, frames_per_s: float | None, now_ns: int) -> None:
        """What the camera gives now; None where no picture comes."""
        if frames_per_s is None or frames_per_s >= ENOUGH_PER_S:
            self._since_ns = self.low_per_s = None
        elif frames_per_s < LOW_PER_S:
            self._since_ns = now_ns if self._since_ns is None else self._since_ns
            if self.low_per_s is None and now_ns - self._since_ns >= LOW_FOR_NS:
                self.low_per_s = frames_per_s


class FramePacing:
    """Keeps one frame's lateness from being handed on to all that come after it.

    Where measuring takes 13 ms of the 17 from frame to frame, one frame that took 10 ms more makes
    the next four late; where it takes 18, they all are. A frame that has waited more than half of
    the time to the next one is further out of date than that one is away: what a foot does is on
    average cued sooner by waiting, 3 to 4 ms where measuring takes 17 to 22 ms of 17. It costs
    frames, 3 to 8 in a hundred there.
    """

    def __init__(self) -> None:
        self._intervals_ns: deque[int] = deque(maxlen=_KEPT)
        self._busy_ns: deque[int] = deque(maxlen=_KEPT)
        self._last: tuple[int, int] | None = None

    def measured(self, captured_ns: int, index: int, busy_ns: int) -> None:
        """Learn from a frame: it was captured then, as the ``index``-th, and took ``busy_ns``."""
        if self._last is not None and index > self._last[1]:
            since_ns, frames = captured_ns - self._last[0], index - self._last[1]
            self._intervals_ns.append(since_ns // frames)
        self._last = captured_ns, index
        self._busy_ns.append(busy_ns)

    def wait_ns(self, age_ns: int) -> int:
        """How long to wait for a newer frame than one that was captured ``age_ns`` ago; mostly 0.

        A quarter of the time from frame to frame is added for a camera that is late itself; if
        none has come by then, the old one is the newest there is.
        """
        if len(self._intervals_ns) < _KEPT:
            return 0
        interval_ns = median_low(self._intervals_ns)
        if not interval_ns / 2 < age_ns < interval_ns <= _LONGEST_NS:
            return 0
        enough = median_low(self._busy_ns) + interval_ns // 2 <= _ENOUGH_NS
        return interval_ns - age_ns + interval_ns // 4 if enough else 0
