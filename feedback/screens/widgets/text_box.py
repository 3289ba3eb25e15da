"""Rows of text in a box: the box itself, and how high its rows stand (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

LINE_PITCH: Final = 1.42
"""From one row of text to the next, in heights of a capital."""
DESCENT: Final = 0.32
"""Room below the last row, in heights of a capital."""


def block_height(rows: int) -> float:
    """Height of so many rows of text, in heights of a capital."""
    return 1.0 + (rows - 1) * LINE_PITCH + DESCENT


@dataclass(frozen=True, slots=True)
class Box:
    """A place on the screen, in pixels from the upper left corner."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """The right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """The lower edge."""
        return self.y + self.height
