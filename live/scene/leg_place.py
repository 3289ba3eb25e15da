"""Which leg a leg is to the camera (pure)."""

from __future__ import annotations

from typing import Final

from shared.flow import Side, View

NEAR: Final = "near"
FAR: Final = "far"
ACROSS: Final = "across"


def place_of(view: View, side: Side, forward: float) -> str:
    """Which leg this is to the camera; ``forward`` is +1 when the runner faces right in it."""
    if view is not View.SIDE:
        return ACROSS
    return NEAR if side is (Side.RIGHT if forward > 0 else Side.LEFT) else FAR
