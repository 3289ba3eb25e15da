"""The colours of the screens, as pairs that were chosen to be told apart (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

# Okabe and Ito 2008, "Color Universal Design": eight colours that people with any common form
# of colour vision tell apart.
BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY_BLUE: Final = "#56B4E9"
BLUISH_GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"

GROUND: Final = "#101418"
_LIGHT: Final = "#F4F6F7"
_GREY: Final = "#B7C0C7"
_RAIL: Final = "#7A858E"
_DIM: Final = "#8A959E"
_CARD: Final = "#1A2026"
_PLATE: Final = "#2B333A"
_BAND_FILL: Final = "#123F5C"


@dataclass(frozen=True, slots=True)
class Ink:
    """A colour and the one that it is drawn on."""

    colour: str
    on: str
    text: bool
    """Text must stand out more than a shape."""


NUMBER: Final = Ink(_LIGHT, GROUND, text=True)
NUMBER_OUTSIDE: Final = Ink(ORANGE, GROUND, text=True)
LINE: Final = Ink(_LIGHT, GROUND, text=True)
LABEL: Final = Ink(_GREY, GROUND, text=True)
NOTE: Final = Ink(ORANGE, GROUND, text=True)
RAIL: Final = Ink(_RAIL, GROUND, text=False)
BAND: Final = Ink(BLUE, GROUND, text=False)
BAND_EDGE: Final = Ink(SKY_BLUE, GROUND, text=False)
MARKER_INSIDE: Final = Ink(_LIGHT, BLUE, text=False)
MARKER_OUTSIDE: Final = Ink(ORANGE, GROUND, text=False)
STOP_PLATE: Final = Ink(VERMILION, GROUND, text=False)
STOP_TEXT: Final = Ink(BLACK, VERMILION, text=True)
CLOSE_EDGE: Final = Ink(_GREY, GROUND, text=False)
CLOSE_TEXT: Final = Ink(_LIGHT, _PLATE, text=True)
# The clinician's panel: cards on the ground, plates (buttons, fields) on the cards.
CARD_TEXT: Final = Ink(_LIGHT, _CARD, text=True)
CARD_LABEL: Final = Ink(_GREY, _CARD, text=True)
CARD_OLD: Final = Ink(_DIM, _CARD, text=True)
"""For values that hold no longer."""
CARD_NOTE: Final = Ink(ORANGE, _CARD, text=True)
CARD_EDGE: Final = Ink(_RAIL, _CARD, text=False)
PLATE_TEXT: Final = Ink(_LIGHT, _PLATE, text=True)
PLATE_OFF: Final = Ink(_GREY, _CARD, text=True)
"""A control that cannot be used now."""
PLATE_EDGE: Final = Ink(_DIM, _PLATE, text=False)
CHOSEN: Final = Ink(BLACK, SKY_BLUE, text=True)
KEY_FOCUS: Final = Ink(YELLOW, _PLATE, text=False)
"""Round the control that has the keys."""
LEFT_LINE: Final = Ink(ORANGE, _CARD, text=False)
RIGHT_LINE: Final = Ink(SKY_BLUE, _CARD, text=False)
NO_SIDE_LINE: Final = Ink(_LIGHT, _CARD, text=False)
TARGET_BAND: Final = Ink(BLUE, _CARD, text=False)
"""The edges of a target's band in a chart; its inside is dim, so that lines stand out on it."""
LEFT_IN_BAND: Final = Ink(ORANGE, _BAND_FILL, text=False)
RIGHT_IN_BAND: Final = Ink(SKY_BLUE, _BAND_FILL, text=False)
NO_SIDE_IN_BAND: Final = Ink(_LIGHT, _BAND_FILL, text=False)
CHANGE_MARK: Final = Ink(YELLOW, _CARD, text=False)
BLOCK_MARK: Final = Ink(_DIM, _CARD, text=False)
LEFT_LIMB: Final = Ink(ORANGE, BLACK, text=False)
RIGHT_LIMB: Final = Ink(SKY_BLUE, BLACK, text=False)
"""Lines over the camera's picture, which has any colour at all: each is rimmed with black."""
MIDDLE_LIMB: Final = Ink(_LIGHT, BLACK, text=False)
GUIDE: Final = Ink(_LIGHT, BLACK, text=False)
GUIDE_WORD: Final = Ink(_LIGHT, BLACK, text=True)
BELT_LINE: Final = Ink(YELLOW, BLACK, text=True)
"""Guides of the camera check, over the picture too."""
GOOD_SIGN: Final = Ink(BLUISH_GREEN, _CARD, text=False)
TO_DO_SIGN: Final = Ink(ORANGE, _CARD, text=False)
OPEN_SIGN: Final = Ink(_GREY, _CARD, text=False)

INKS: Final[tuple[Ink, ...]] = (
    NUMBER,
    NUMBER_OUTSIDE,
    LINE,
    LABEL,
    NOTE,
    RAIL,
    BAND,
    BAND_EDGE,
    MARKER_INSIDE,
    MARKER_OUTSIDE,
    STOP_PLATE,
    STOP_TEXT,
    CLOSE_EDGE,
    CLOSE_TEXT,
    CARD_TEXT,
    CARD_LABEL,
    CARD_OLD,
    CARD_NOTE,
    CARD_EDGE,
    PLATE_TEXT,
    PLATE_OFF,
    PLATE_EDGE,
    CHOSEN,
    KEY_FOCUS,
    LEFT_LINE,
    RIGHT_LINE,
    NO_SIDE_LINE,
    TARGET_BAND,
    LEFT_IN_BAND,
    RIGHT_IN_BAND,
    NO_SIDE_IN_BAND,
    CHANGE_MARK,
    BLOCK_MARK,
    LEFT_LIMB,
    RIGHT_LIMB,
    MIDDLE_LIMB,
    GUIDE,
    GUIDE_WORD,
    BELT_LINE,
    GOOD_SIGN,
    TO_DO_SIGN,
    OPEN_SIGN,
)
"""Every pair that is drawn; nothing is drawn in a colour outside this table."""
