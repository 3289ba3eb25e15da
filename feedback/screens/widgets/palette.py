"""The colours of the screens, dark and light, as pairs chosen to be told apart (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from feedback.screens.widgets import design
from feedback.screens.widgets.design import Appearance

# Okabe and Ito 2008, "Color Universal Design": eight colours that people with any common form
# of colour vision tell apart.
BLACK: Final = "#000000"
ORANGE: Final = "#E69F00"
SKY_BLUE: Final = "#56B4E9"
BLUISH_GREEN: Final = "#009E73"
YELLOW: Final = "#F0E442"
BLUE: Final = "#0072B2"
VERMILION: Final = "#D55E00"

# Each shade: on a dark ground, and on a light one, where the eight are too pale for lines and text
# and are taken darker, in the same order of hue.
Shade = tuple[str, str]
_GROUND: Final[Shade] = ("#101418", "#E9EDF0")
_CARD: Final[Shade] = ("#1A2026", "#FFFFFF")
_PLATE: Final[Shade] = ("#2B333A", "#DCE3E8")
_TEXT: Final[Shade] = ("#F4F6F7", "#14191D")
_GREY: Final[Shade] = ("#B7C0C7", "#424C54")
_DIM: Final[Shade] = ("#8A959E", "#5C6770")
_RAIL: Final[Shade] = ("#7A858E", "#6A757E")
_WARM: Final[Shade] = (ORANGE, "#8A4B00")
_COOL: Final[Shade] = (SKY_BLUE, "#00588A")
_FRESH: Final[Shade] = (BLUISH_GREEN, "#00694D")
_BRIGHT: Final[Shade] = (YELLOW, "#6B5B00")
_OWN: Final[Shade] = ("#CDD4D9", "#14191D")
_BLUE: Final[Shade] = (BLUE, BLUE)
_BAND_FILL: Final[Shade] = ("#123F5C", "#CFE4F2")
_CHOSEN: Final[Shade] = (SKY_BLUE, "#00588A")
_ON_CHOSEN: Final[Shade] = (BLACK, "#FFFFFF")
_STOP: Final[Shade] = (VERMILION, VERMILION)
_BLACK: Final[Shade] = (BLACK, BLACK)
_LIGHT: Final[Shade] = ("#F4F6F7", "#F4F6F7")
_OVER_ORANGE: Final[Shade] = (ORANGE, ORANGE)
_OVER_SKY: Final[Shade] = (SKY_BLUE, SKY_BLUE)
_OVER_YELLOW: Final[Shade] = (YELLOW, YELLOW)


@dataclass(frozen=True, slots=True)
class Ink:
    """A colour and the one that it is drawn on, each dark and light."""

    colours: Shade
    grounds: Shade
    text: bool
    """Text must stand out more than a shape."""

    @property
    def colour(self) -> str:
        """The colour in the appearance that is in use, as ``#RRGGBB``."""
        return in_use(self.colours)

    @property
    def on(self) -> str:
        """What it is drawn on, likewise."""
        return in_use(self.grounds)


def in_use(shade: Shade) -> str:
    """Of a shade, what suits the appearance in use."""
    return shade[design.appearance() is Appearance.LIGHT]


def ground() -> str:
    """What all else lies on, in the appearance in use."""
    return in_use(_GROUND)


NUMBER: Final = Ink(_TEXT, _GROUND, text=True)
NUMBER_OUTSIDE: Final = Ink(_WARM, _GROUND, text=True)
LINE: Final = Ink(_TEXT, _GROUND, text=True)
LABEL: Final = Ink(_GREY, _GROUND, text=True)
NOTE: Final = Ink(_WARM, _GROUND, text=True)
RAIL: Final = Ink(_RAIL, _GROUND, text=False)
BAND: Final = Ink(_BLUE, _GROUND, text=False)
BAND_EDGE: Final = Ink(_COOL, _GROUND, text=False)
OWN_MARK: Final = Ink(_OWN, _GROUND, text=False)
"""The runner's own value on the gauge."""
OWN_IN_BAND: Final = Ink(_OWN, _BLUE, text=False)
MARKER_INSIDE: Final = Ink(_LIGHT, _BLUE, text=False)
MARKER_OUTSIDE: Final = Ink(_WARM, _GROUND, text=False)
STOP_PLATE: Final = Ink(_STOP, _GROUND, text=False)
STOP_TEXT: Final = Ink(_BLACK, _STOP, text=True)
CLOSE_EDGE: Final = Ink(_GREY, _GROUND, text=False)
CLOSE_TEXT: Final = Ink(_TEXT, _PLATE, text=True)
# The clinician's panel: cards on the ground, plates (buttons, fields) on the cards.
CARD_TEXT: Final = Ink(_TEXT, _CARD, text=True)
CARD_LABEL: Final = Ink(_GREY, _CARD, text=True)
CARD_OLD: Final = Ink(_DIM, _CARD, text=True)
"""For values that hold no longer."""
CARD_NOTE: Final = Ink(_WARM, _CARD, text=True)
CARD_EDGE: Final = Ink(_RAIL, _CARD, text=False)
PLATE_TEXT: Final = Ink(_TEXT, _PLATE, text=True)
PLATE_LABEL: Final = Ink(_GREY, _PLATE, text=True)
PLATE_OFF: Final = Ink(_DIM, _CARD, text=True)
"""A control that cannot be used now: flat on its card, in the colour of what holds no longer."""
PLATE_EDGE: Final = Ink(("#98A3AB", "#5C6770"), _PLATE, text=False)
CHOSEN: Final = Ink(_ON_CHOSEN, _CHOSEN, text=True)
CHOSEN_PLATE: Final = Ink(_CHOSEN, _CARD, text=False)
"""What is chosen, on its card."""
KEY_FOCUS: Final = Ink(_BRIGHT, _PLATE, text=False)
"""Round the control that has the keys."""
KEY_FOCUS_CARD: Final = Ink(_BRIGHT, _CARD, text=False)
LEFT_LINE: Final = Ink(_WARM, _CARD, text=False)
RIGHT_LINE: Final = Ink(_COOL, _CARD, text=False)
NO_SIDE_LINE: Final = Ink(_TEXT, _CARD, text=False)
TARGET_BAND: Final = Ink(_BLUE, _CARD, text=False)
"""The edges of a target's band in a chart; its inside is dim, so that lines stand out on it."""
LEFT_IN_BAND: Final = Ink(_WARM, _BAND_FILL, text=False)
RIGHT_IN_BAND: Final = Ink(_COOL, _BAND_FILL, text=False)
NO_SIDE_IN_BAND: Final = Ink(_TEXT, _BAND_FILL, text=False)
CHANGE_MARK: Final = Ink(_BRIGHT, _CARD, text=False)
BLOCK_MARK: Final = Ink(_DIM, _CARD, text=False)
LEFT_LIMB: Final = Ink(_OVER_ORANGE, _BLACK, text=False)
RIGHT_LIMB: Final = Ink(_OVER_SKY, _BLACK, text=False)
"""Lines over the camera's picture, which has any colour at all: each is rimmed with black."""
MIDDLE_LIMB: Final = Ink(_LIGHT, _BLACK, text=False)
GUIDE: Final = Ink(_LIGHT, _BLACK, text=False)
GUIDE_WORD: Final = Ink(_LIGHT, _BLACK, text=True)
BELT_LINE: Final = Ink(_OVER_YELLOW, _BLACK, text=True)
"""Guides of the camera check, over the picture too."""
GOOD_SIGN: Final = Ink(_FRESH, _CARD, text=False)
TO_DO_SIGN: Final = Ink(_WARM, _CARD, text=False)
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
    OWN_MARK,
    OWN_IN_BAND,
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
    PLATE_LABEL,
    PLATE_OFF,
    PLATE_EDGE,
    CHOSEN,
    CHOSEN_PLATE,
    KEY_FOCUS,
    KEY_FOCUS_CARD,
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
