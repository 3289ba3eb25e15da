"""Steadies landmarks that are drawn over the picture; nothing is ever measured from them.

The One Euro filter (Casiez, Roussel and Vogel, CHI 2012): a low-pass of the first order whose
cut-off rises with speed, so that what rests does not tremble and what moves does not lag. Two
variants are in use. Speed is taken here from the newest value less the last *filtered* one, as in
the authors' present package, not less the last raw one: lag then counts as speed, so the drawn
foot catches up sooner after it turns, and the package can serve as a check, sample by sample.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from shared.records import FloatArray

MIN_CUTOFF_HZ: Final = 2.5
SPEED_CUTOFF_HZ: Final = 5.0
"""Above the authors' 1 Hz: a runner's foot turns round about three times a second, and a slower
estimate of its speed would stay near zero."""
BETA: Final = 20.0
"""Cut-off gained (Hz) per picture height a second."""


class OneEuro:
    """One filter for each number of an array; feed it one array a frame."""

    def __init__(
        self,
        min_cutoff_hz: float = MIN_CUTOFF_HZ,
        beta: float = BETA,
        speed_cutoff_hz: float = SPEED_CUTOFF_HZ,
    ) -> None:
        self._min_cutoff_hz = min_cutoff_hz
        self._beta = beta
        self._speed_cutoff_hz = speed_cutoff_hz
        self._last_s: float | None = None
        self._value = np.empty(0)
        self._speed = np.empty(0)

    def reset(self) -> None:
        """Start anew, as for another runner."""
        self._last_s = None

    def smooth(self, values: FloatArray, at_s: float) -> FloatArray:
        """The steadied array of the same shape.

        ``values`` are in picture heights (pixels over the picture's height), of one shape all
        along; ``at_s`` is their time. What is NaN comes back NaN and starts anew when it
        returns. An array that is not newer than the last one changes nothing.
        """
        if self._last_s is None:
            self._value, self._speed = values.copy(), np.zeros_like(values)
            self._last_s = at_s
        if at_s > self._last_s:
            self._move(values, at_s - self._last_s)
            self._last_s = at_s
        return self._value.copy()

    def _move(self, values: FloatArray, gap_s: float) -> None:
        known = np.isfinite(self._value)
        value = np.where(known, self._value, values)
        speed = np.where(known, self._speed, 0.0)
        change = values - value
        speed += share(self._speed_cutoff_hz, gap_s) * (change / gap_s - speed)
        cutoff_hz = self._min_cutoff_hz + self._beta * np.abs(speed)
        self._value = value + share(cutoff_hz, gap_s) * change
        self._speed = speed


def share(cutoff_hz: FloatArray | float, gap_s: float) -> FloatArray:
    """How far a low-pass of the first order moves toward a value that is ``gap_s`` newer."""
    return np.asarray(1.0 / (1.0 + 1.0 / (2.0 * np.pi * np.asarray(cutoff_hz) * gap_s)))
