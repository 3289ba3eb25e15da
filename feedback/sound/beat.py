"""When the next beat falls: exact tempo, phase kept when the tempo changes; pure."""

from __future__ import annotations

import math
from typing import Final

SLOWEST_SPM: Final = 60.0
FASTEST_SPM: Final = 300.0
"""Well outside any running cadence; a tempo beyond these is a programming error."""
_HOLD_S: Final = 2.0
"""A beat that pauses for less keeps its grid, so that it comes back in step."""


class BeatGrid:
    """Points in time, in samples since the stream began, alternately left and right.

    Samples are those of a stream that keeps exactly to ``sample_rate_hz``: see
    :class:`feedback.sound.steady.SteadyClock`. Points are computed from the last change of tempo,
    never summed up, so that rounding to whole samples cannot pile up.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._spm: float | None = None
        self._interval = 0.0
        self._first = 0.0
        self._done = 0
        self._first_is_left = True
        self._paused_at = 0.0

    def set_tempo(self, spm: float | None, at: float) -> None:
        """Beat at ``spm`` steps/min from sample ``at`` on; None pauses.

        After a change the next beat comes one new interval after the last one. A start, or a
        return after a long pause, beats at once and begins with the left.
        """
        if spm == self._spm:
            return
        if spm is None:
            self._paused_at = at
            self._spm = None
            return
        paused = self._spm is None
        interval = 60.0 * self._rate_hz / spm
        if self._interval == 0.0 or (paused and at - self._paused_at > _HOLD_S * self._rate_hz):
            self._first, self._done, self._first_is_left = at, 0, True
        else:
            if paused:
                self._done = max(self._done, math.ceil((at - self._first) / self._interval))
            if interval != self._interval and self._done > 0:
                self._first += (self._done - 1) * self._interval
                self._first_is_left ^= (self._done - 1) % 2 == 1
                self._done = 1
        self._spm = spm
        self._interval = interval

    def take(self, start: float, length: float) -> tuple[float, bool] | None:
        """The beat that falls within ``length`` samples from ``start``: (offset, is it left).

        Each beat is given once; ask again for a further one in the same block.
        """
        if self._spm is None:
            return None
        due = self._first + self._done * self._interval
        if due >= start + length:
            return None
        left = self._first_is_left ^ (self._done % 2 == 1)
        if due < start:
            # A faster tempo put the beat into the past: it comes now, and the grid goes with it.
            self._first, self._done, self._first_is_left = start, 0, left
            due = self._first
        self._done += 1
        return due - start, left
