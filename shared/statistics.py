"""Numbers about numbers: mean direction of angles, difference between the sides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from shared.flow import FloatArray

Z90: Final = 1.645
Z95: Final = 1.96
"""Half widths of the intervals that hold 90 and 95 % of a normal distribution, in its SD."""
NO_DIRECTION: Final = 1e-6
"""Mean resultant length at or under which the angles cancel out: far above rounding, far below
anything that a sample of steps gives."""


@dataclass(frozen=True, slots=True)
class MeanDirection:
    """Where angles point on the whole, and how closely they agree."""

    angle_rad: float | None
    """In (-pi, pi]; None when the angles cancel out, so that there is no direction."""
    length: float
    """Mean resultant length: 1 when all angles agree, 0 when they cancel out."""


def mean_direction(angles_rad: FloatArray) -> MeanDirection:
    """Mean of angles that wrap around, such as the phase of steps against a beat.

    ``angles_rad`` (n,). Mean direction and mean resultant length as in Zar, Biostatistical
    Analysis (chapter on circular distributions). Raises ValueError for no angles at all.
    """
    if len(angles_rad) == 0:
        raise ValueError("no angles")
    resultant = complex(np.exp(1j * np.asarray(angles_rad)).mean())
    length = min(abs(resultant), 1.0)
    angle = float(np.angle(resultant)) if length > NO_DIRECTION else None
    return MeanDirection(angle, length)


def symmetry_index(left: float, right: float) -> float:
    """(R - L) / half the sum, in %; + is more on the right (Robinson, Herzog and Nigg 1987).

    For sizes such as times and lengths. Raises ValueError when their sum is not positive.
    """
    if not left + right > 0:
        raise ValueError("the two sides have no size to compare")
    return 100.0 * (right - left) / (0.5 * (right + left))
