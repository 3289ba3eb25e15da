"""Loudness as ITU-R BS.1770-5 says, for sounds shorter than its gates: the loudest 400 ms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import signal

RATE_HZ = 48_000
# Tables 1 and 2 of the recommendation, for 48 kHz: the head's shelf, then the high-pass.
_SHELF = ([1.53512485958697, -2.69169619938638, 1.19839281085285],
          [1.0, -1.69065929318241, 0.73248077421585])  # fmt: skip
_HIGH_PASS = ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621])
_WINDOW = round(0.4 * RATE_HZ)


def momentary_lufs(samples: NDArray[Any]) -> float:
    """The largest momentary loudness (EBU Tech 3341) of a sound (n, 2) at 48 kHz, in silence."""
    padded = np.pad(samples.astype(np.float64), ((_WINDOW, _WINDOW), (0, 0)))
    for numerator, denominator in (_SHELF, _HIGH_PASS):
        padded = signal.lfilter(numerator, denominator, padded, axis=0)
    sums = np.cumsum(np.sum(padded**2, axis=1))
    return -0.691 + 10.0 * math.log10(float(np.max(sums[_WINDOW:] - sums[:-_WINDOW])) / _WINDOW)


def on_one_loudspeaker(samples: NDArray[Any]) -> NDArray[Any]:
    """What is heard where one loudspeaker, or each of both, plays left and right together."""
    return np.repeat(samples.mean(axis=1, keepdims=True), 2, axis=1)


def centroid_hz(samples: NDArray[Any]) -> float:
    """The spectrum's centre of power: how bright a sound is."""
    power = np.abs(np.fft.rfft(samples.astype(np.float64).sum(axis=1))) ** 2
    hz = np.fft.rfftfreq(len(samples), 1.0 / RATE_HZ)
    return float(np.sum(power * hz) / np.sum(power))


def onsets(samples: NDArray[Any]) -> int:
    """How many notes are heard: rises of the level by 6 dB or more after a dip, or silence."""
    wave = np.abs(signal.hilbert(np.pad(samples.astype(np.float64).sum(axis=1), 960)))
    size = round(0.01 * RATE_HZ)
    level = np.convolve(wave, np.ones(size) / size, mode="same")
    found, lowest, highest, rising = 0, 1e-9, 0.0, False
    for value in level[:: size // 2] / level.max() + 1e-6:
        if rising:
            highest = max(highest, value)
            if value < highest / 2.0:
                rising, lowest = False, value
        else:
            lowest = min(lowest, value)
            if value > 2.0 * lowest and value > 0.2:
                rising, highest, found = True, value, found + 1
    return found
