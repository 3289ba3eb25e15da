"""Which way the runner faces and from where the camera looks, told from the landmarks."""

from __future__ import annotations

import math
from typing import Final

from live.scene.geometry import trunk_px
from shared.flow import FloatArray, View
from shared.landmarks import Landmark as Lm

SIDE_WIDTH: Final = 0.42
"""Shoulder width over trunk length below which the body is seen from the side.

Square on it is about 0.8 (shoulder width .259, trunk .288 of stature: Drillis and Contini);
turned by 60 degrees from square it halves.
"""
UNSURE_WIDTH: Final = 0.06
"""So near to it the view cannot be told. Slow averages lie under 0.30 in clips drawn from the side
and over 0.58 across; in real ones under 0.31, and at 0.45 to 0.57 from behind at a slant."""


def body_axes(xy_px: FloatArray) -> tuple[float, float] | None:
    """(signed shoulder width over trunk length, facing) of one pose, or None.

    The width is positive when the left shoulder is left in the picture, as seen from behind.
    Facing is > 0 when the nose is right of the ears' middle, as a share of trunk length.
    ``xy_px`` (33, 2).
    """
    trunk = trunk_px(xy_px)
    if not math.isfinite(trunk) or trunk < 5.0:
        return None
    # In plain numbers: numpy takes several times as long over so few.
    x = xy_px[:, 0].tolist()
    width = (x[Lm.RIGHT_SHOULDER] - x[Lm.LEFT_SHOULDER]) / trunk
    face = x[Lm.NOSE] - 0.5 * (x[Lm.LEFT_EAR] + x[Lm.RIGHT_EAR])
    toes = x[Lm.LEFT_FOOT_INDEX] + x[Lm.RIGHT_FOOT_INDEX]
    heels = x[Lm.LEFT_HEEL] + x[Lm.RIGHT_HEEL]
    facing = face + 0.5 * (toes - heels)
    return width, facing / trunk if math.isfinite(facing) else 0.0


class ViewWatch:
    """Slow averages of width and facing, so that single frames do not sway the verdict."""

    def __init__(self) -> None:
        self._width: float | None = None
        self._facing = 0.0

    def add(self, xy_px: FloatArray) -> None:
        """Take in one pose (33, 2)."""
        axes = body_axes(xy_px)
        if axes is None:
            return
        if self._width is None:
            self._width, self._facing = axes
            return
        self._width += 0.05 * (axes[0] - self._width)
        self._facing += 0.05 * (axes[1] - self._facing)

    def reset(self) -> None:
        """Forget the runner."""
        self._width = None
        self._facing = 0.0

    @property
    def forward(self) -> float:
        """+1 when the runner faces right in the picture, -1 when left."""
        return 1.0 if self._facing >= 0 else -1.0

    @property
    def seen(self) -> View | None:
        """From where the camera seems to look; None while nothing is known."""
        if self._width is None:
            return None
        if abs(self._width) < SIDE_WIDTH:
            return View.SIDE
        return View.BEHIND if self._width > 0 else View.FRONT

    @property
    def surely_seen(self) -> View | None:
        """The same; None as well where the body is turned about as far for one view as another."""
        if self._width is None or abs(abs(self._width) - SIDE_WIDTH) < UNSURE_WIDTH:
            return None
        return self.seen
