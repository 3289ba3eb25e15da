"""Numbers about numbers: mean direction of angles, difference between the sides."""

from __future__ import annotations

from typing import Final

Z90: Final = 1.645
Z95: Final = 1.96
"""Half widths of the intervals that hold 90 and 95 % of a normal distribution, in its SD."""


def symmetry_index(left: float, right: float) -> float:
    """(R - L) / half the sum, in %; + is more on the right (Robinson, Herzog and Nigg 1987).

    For sizes such as times and lengths. Raises ValueError when their sum is not positive.
    """
    if not left + right > 0:
        raise ValueError("the two sides have no size to compare")
    return 100.0 * (right - left) / (0.5 * (right + left))
