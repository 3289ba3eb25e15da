"""One design for every window: sizes of type, distances, and which appearance is in use (pure)."""

from __future__ import annotations

from enum import StrEnum
from typing import Final

# Sizes of letters, in logical pixels; each is about a fifth to a third larger than the one before.
SMALL_PX: Final = 13
"""Labels and what is said beside something."""
BODY_PX: Final = 15
STRONG_PX: Final = 18
HEAD_PX: Final = 26
FIGURE_PX: Final = 40
"""The measure that is in focus."""
TITLE_PX: Final = 34
"""What a page asks or says."""
TYPE_SCALE_PX: Final = (SMALL_PX, BODY_PX, STRONG_PX, HEAD_PX, TITLE_PX, FIGURE_PX)

# Distances, in logical pixels.
HAIR_PX: Final = 4
GAP_PX: Final = 8
PAD_PX: Final = 12
ROOM_PX: Final = 18
PAGE_PX: Final = 32
SPACES_PX: Final = (HAIR_PX, GAP_PX, PAD_PX, ROOM_PX, PAGE_PX)

CORNER_PX: Final = 6
EDGE_PX: Final = 2
CONTROL_PX: Final = 34
"""Least height of what is pressed: over the 24 px that WCAG 2.2, 2.5.8 asks for."""
ICON_PX: Final = 20

SPARE_SHARE: Final = 0.35
"""Of a box's width that the English text leaves free: German takes so much more (common practice,
no source)."""

APPEARANCE_VARIABLE: Final = "BELTSIDE_APPEARANCE"
"""Tells a window that another process of ours starts, how it is to look."""


class Appearance(StrEnum):
    """How windows look."""

    DARK = "dark"
    LIGHT = "light"


class _InUse:
    """How the windows of this process look."""

    appearance: Appearance = Appearance.DARK


def appearance() -> Appearance:
    """How the windows of this process look."""
    return _InUse.appearance


def use(wanted: Appearance) -> None:
    """Look so from now on; said before the first window is made."""
    _InUse.appearance = wanted


def wanted_appearance(
    preferred: str, system: Appearance | None, *, from_afar: bool = False
) -> Appearance:
    """How to look, from what is preferred (``system``, ``light`` or ``dark``).

    ``system``: how the desktop looks, None where it does not say. Windows that are read
    ``from_afar``, by a runner, are dark unless light is asked for.
    """
    if preferred in (Appearance.DARK, Appearance.LIGHT):
        return Appearance(preferred)
    return Appearance.DARK if from_afar or system is None else system
