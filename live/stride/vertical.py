"""The body's way up and down, twice in a stride: it steadies the phase, and unmasks false strides.

Head, shoulders and hips are never hidden behind a leg and never exchanged, from any side
(``live.stride.sample.RIGID``). From behind and in front, where the legs move little in the
picture, they tell the phase best.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from live.stride import fourier as harmonics
from shared.flow import FloatArray

TRUST: Final = 4.0
"""How many landmarks of the legs this one number is worth (rendered tuning cases)."""
LEVEL_S: Final = 1.5
"""How fast the mean height is followed, as the runner drifts toward the camera or away."""
TWICE: Final = 0.5
"""Share of the movement that must come twice a stride; 0.9 and more in true strides, 0 in one of
three steps, which is what freely named legs can be taken for."""
TWICE_AT_FIRST: Final = 0.7
"""The same before a stride is believed: while a runner still gains speed, 0.53 was seen in one at
four fifths of the true rate (rendered cases)."""


@dataclass(frozen=True, slots=True)
class VerticalMotion:
    """The body's height over the phase."""

    coefficients: FloatArray
    """(2 * harmonics + 1,) px downward, the constant left at 0."""
    spread: float
    """px, SD of single frames around it."""

    @property
    def twice_a_stride(self) -> bool:
        """Whether the body goes up and down twice a stride, as running and walking have it."""
        return self.twice_share >= TWICE

    @property
    def twice_share(self) -> float:
        """Share of the movement that comes twice a stride."""
        power = self.coefficients[1::2] ** 2 + self.coefficients[2::2] ** 2
        return float(power[1] / max(float(power.sum()), 1e-9))

    @property
    def variance_px2(self) -> float:
        """Of the height over a stride, px^2."""
        return max(0.5 * float((self.coefficients[1:] ** 2).sum()), 1e-9)


def learn_bounce(
    downs: FloatArray, columns: FloatArray, ridge: FloatArray, trust: FloatArray, periodic: int
) -> VerticalMotion:
    """Fit the height: ``downs`` (n,), ``columns`` (n, p), ``trust`` (n,).

    The first ``periodic`` columns are the Fourier series; what follows takes up slow drift.
    """
    fitted = harmonics.fit(columns, downs[:, None, None], trust[:, None], ridge)[:, 0, 0]
    off2 = (downs - columns @ fitted) ** 2
    coefficients = fitted[:periodic].copy()
    coefficients[0] = 0.0
    return VerticalMotion(coefficients, float(np.sqrt((trust * off2).sum() / trust.sum())))
