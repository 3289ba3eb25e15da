"""Turns the sound driver's own clock into the station's: when will this block be heard; pure."""

from __future__ import annotations

from typing import Final

from shared.units import NS_PER_S

_LONGEST_LEAD_S: Final = 2.0
_WINDOW_BLOCKS: Final = 512


class OutputClock:
    """Maps the driver's stamps to the monotonic clock.

    The callback reads both clocks, but may have waited for the interpreter in between, so single
    differences are too large by that wait. The least difference of the last one to two windows
    (about 3 to 5 s) is taken; windows, because the two clocks may drift apart.
    """

    def __init__(self, fallback_ns: int) -> None:
        """``fallback_ns``: output latency to assume where the driver gives no usable stamps."""
        self._fallback_ns = fallback_ns
        self._least: int | None = None
        self._least_before: int | None = None
        self._blocks = 0

    def sounds_at_ns(self, now_ns: int, driver_now_s: float, driver_out_s: float) -> int:
        """When the first sample of this block leaves the computer.

        ``driver_now_s`` and ``driver_out_s`` are the driver's present and that instant, in
        seconds of its clock; some drivers give 0 for either.
        """
        lead_s = driver_out_s - driver_now_s
        if driver_now_s <= 0.0 or not 0.0 < lead_s <= _LONGEST_LEAD_S:
            return now_ns + self._fallback_ns
        apart = now_ns - round(driver_now_s * NS_PER_S)
        if self._blocks == _WINDOW_BLOCKS:
            self._least_before, self._least, self._blocks = self._least, None, 0
        self._blocks += 1
        self._least = apart if self._least is None else min(self._least, apart)
        least = self._least
        if self._least_before is not None:
            least = min(least, self._least_before)
        return round(driver_out_s * NS_PER_S) + least
