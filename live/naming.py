"""The first look at a stretch of running: its stride rate, its scale, and which leg is which."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from live import harmonics
from live.harmonics import TWO_PI
from shared.landmarks import Landmark as Lm
from shared.records import FloatArray

IntArray = NDArray[np.int64]
STRIDE_HZ: Final = (0.7, 1.95)
"""Searched stride rates: 84 to 234 steps/min, wider than people walk and run."""
LEFT_LEG: Final = np.array([Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX])
RIGHT_LEG: Final = LEFT_LEG + 1
LEFT_ARM: Final = np.array([Lm.LEFT_ELBOW, Lm.LEFT_WRIST])
RIGHT_ARM: Final = LEFT_ARM + 1


def swap_sides(values: FloatArray, left: IntArray, right: IntArray) -> FloatArray:
    """Copy of ``values`` (33, ...) with two groups of landmarks exchanged."""
    out = values.copy()
    out[left], out[right] = values[right], values[left]
    return out


def leg_length_px(rel: FloatArray, weight: FloatArray) -> float:
    """Thigh plus shank as seen when least foreshortened: 85th percentile, the longer leg.

    ``rel`` (n, 33, 2), ``weight`` (n, 33).
    """
    lengths = []
    for hip, knee, ankle in (
        (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE),
        (Lm.RIGHT_HIP, Lm.RIGHT_KNEE, Lm.RIGHT_ANKLE),
    ):
        thigh, shank = rel[:, knee] - rel[:, hip], rel[:, ankle] - rel[:, knee]
        lengths_px = np.hypot(thigh[:, 0], thigh[:, 1]) + np.hypot(shank[:, 0], shank[:, 1])
        good = (weight[:, knee] > 0) & (weight[:, ankle] > 0)
        if good.sum() >= 5:
            lengths.append(float(np.percentile(lengths_px[good], 85)))
    return max(max(lengths, default=1.0), 1.0)


def find_stride_rate(
    times_s: FloatArray, rel: FloatArray, weight: FloatArray
) -> tuple[float, float]:
    """Stride rate (Hz) whose first and third harmonic explain most of left less right.

    Left less right turns its sign with half a stride, so it holds odd harmonics only, and the
    rate cannot be taken for the step rate. Returns (rate, explained share 0 to 1).
    """
    pairs = np.array([Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_WRIST, Lm.LEFT_ELBOW])
    good = np.minimum(weight[:, pairs], weight[:, pairs + 1])
    difference = (rel[:, pairs] - rel[:, pairs + 1]).reshape(len(times_s), -1)
    trust = np.repeat(good, 2, axis=1)
    mean = (trust * difference).sum(axis=0) / np.maximum(trust.sum(axis=0), 1e-9)
    centred = np.sqrt(trust) * (difference - mean)
    energy = float((centred**2).sum())
    if energy <= 0:
        return 0.0, 0.0
    rates = np.arange(STRIDE_HZ[0], STRIDE_HZ[1], 0.01)
    angle = TWO_PI * rates[:, None] * times_s
    waves = [np.cos(angle), np.sin(angle), np.cos(3 * angle), np.sin(3 * angle)]
    columns = np.stack(waves, axis=2)
    right = columns.transpose(0, 2, 1) @ centred
    normal = columns.transpose(0, 2, 1) @ columns + 1e-6 * np.eye(4)
    explained = (right * np.linalg.solve(normal, right)).sum(axis=(1, 2)) / energy
    top = int(np.argmax(explained))
    return float(rates[top]), float(explained[top])


def name_legs_together(
    theta: FloatArray, rel: FloatArray, weight: FloatArray, leg_px: float
) -> FloatArray:
    """Which frames have the legs exchanged, from the whole window at once; (n,) of 0 or 1.

    Starts from the fundamental only, which a few wrong frames in a stride cannot bend, and
    adds harmonics as the naming settles. The model's own names decide by majority which leg
    is the left one.
    """
    both = np.concatenate([LEFT_LEG, RIGHT_LEG])
    crossed = np.concatenate([RIGHT_LEG, LEFT_LEG])
    straight, exchanged = rel[:, both], rel[:, crossed]
    flips = np.zeros(len(theta))
    for count in (1, 1, 2, 3, 4):
        columns = harmonics.basis(theta, count)
        turned = flips[:, None] > 0
        chosen = np.where(turned[:, :, None], exchanged, straight)
        trust = np.where(turned, weight[:, crossed], weight[:, both])
        ridge = harmonics.smoothness(count, 0.01)
        found, _, _ = harmonics.fit_robustly(columns, chosen, trust, ridge, 0.08 * leg_px)
        fitted = np.tensordot(columns, found, 1)
        cost_straight = np.abs(straight - fitted).sum(axis=(1, 2))
        cost_exchanged = np.abs(exchanged - fitted).sum(axis=(1, 2))
        flips = (cost_exchanged < cost_straight).astype(np.float64)
        if flips.mean() > 0.5:
            flips = 1.0 - flips
    return flips
