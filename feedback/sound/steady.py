"""Where an audio block lies on the computer's clock, so that the beat keeps time with it; pure."""

from __future__ import annotations

import math
from typing import Final

from shared.units import NS_PER_S

_BANDWIDTH_HZ: Final = 0.05
"""Slow enough that the noise of single stamps is not heard; settled half a minute after opening."""
_FASTEST_DRIFT: Final = 1e-3
"""Sound cards are within 1e-4 of their nominal rate, virtual outputs seen here within 3e-4."""
_JUMP_S: Final = 0.004
"""What is further off is no drift: the output ran dry, or one stamp is late."""
_JUMP_BLOCKS: Final = 10
"""So many in a row on one side are believed."""


class SteadyClock:
    """The station's clock in samples of the nominal rate, block after block without a gap.

    An output's samples come a little faster or slower than nominal, so that a beat counted in them
    drifts off the computer's clock (15 ms a minute on PulseAudio's null sink). Single stamps are
    too rough to place beats by. A delay-locked loop of second order smooths them: F. Adriaensen,
    Using a DLL to filter time, Linux Audio Conference 2005 (equations from memory). When the output
    has run dry, all that follows comes later, the beat too: catching up would squeeze one interval.
    """

    def __init__(self, sample_rate_hz: int) -> None:
        self._rate_hz = sample_rate_hz
        self._first_ns: int | None = None
        self._zero = 0.0
        self._start = 0.0
        self._drift = 0.0
        self._far: list[float] = []

    def place(self, frames: int, sounds_at_ns: int) -> tuple[float, float]:
        """(start, length) of the next block of ``frames`` samples, in samples of nominal rate.

        ``sounds_at_ns``: the driver's stamp of when its first frame leaves the computer. The first
        block ever starts at 0, each other one where the one before it ended.
        """
        if self._first_ns is None:
            self._first_ns = sounds_at_ns
        stamped = (sounds_at_ns - self._first_ns) * self._rate_hz / NS_PER_S
        off = stamped - self._zero - self._start
        correction = 0.0
        if abs(off) > _JUMP_S * self._rate_hz:
            self._believe_if_it_lasts(off)
        else:
            self._far.clear()
            omega = math.tau * _BANDWIDTH_HZ * frames / self._rate_hz
            correction = math.sqrt(2.0) * omega * off
            drift = self._drift + omega * omega * off / frames
            self._drift = min(_FASTEST_DRIFT, max(-_FASTEST_DRIFT, drift))
        start = self._start
        length = frames * (1.0 + self._drift) + correction
        self._start = start + length
        return start, length

    def _believe_if_it_lasts(self, off: float) -> None:
        """Go by stamps that are far off from here on, once enough of them agree."""
        if self._far and self._far[-1] * off < 0.0:
            self._far.clear()
        self._far.append(off)
        if len(self._far) == _JUMP_BLOCKS:
            self._zero += min(self._far, key=abs)
            self._far.clear()
