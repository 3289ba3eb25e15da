"""Where things stand on the runner's screen, and how large they must be to be read (pure)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from feedback.screens.widgets.text_box import Box, block_height

NUMBER_ARCMIN: Final = 60.0
LINE_ARCMIN: Final = 40.0
"""Characters are best read at 20 to 22 arcmin, 16 at least (ISO 9241-3); running shakes the gaze,
so words get about twice and the number about three times as much (our choice)."""
LABEL_ARCMIN: Final = 30.0
READ_ARCMIN: Final = 22.0
"""For texts that are read standing still, before or after the run."""
FALLBACK_PX_PER_MM: Final = 96.0 / 25.4
"""96 pixels an inch, the reference pixel of CSS; for screens that do not tell their size."""
_LEAST_PX_PER_MM: Final = 20.0 / 25.4
_MOST_PX_PER_MM: Final = 600.0 / 25.4
_LEAST_WIDTH_MM: Final = 80.0
STOP_MM: Final = (75.0, 30.0)
"""Wanted size of the Stop button: hit it with the flat of a hand."""
MARGIN_SHARE: Final = 0.028
LINE_CHARACTERS: Final = 20
"""No cue line is longer."""
CHARACTER_WIDTH: Final = 0.78
"""Mean width of a bold character of the widest line, in heights of a capital (measured)."""
_NUMBER_WANTED: Final = 1.2
NUMBER_ROOM: Final = 1.06
"""Least room of the number, in heights of its digits: they have no descenders."""
_ROUNDING: Final = 0.9999


def height_mm(arcmin: float, distance_m: float) -> float:
    """Height that spans ``arcmin`` minutes of arc at ``distance_m``: h = 2 d tan(a / 2)."""
    return 2_000.0 * distance_m * math.tan(math.radians(arcmin / 60.0) / 2.0)


def px_per_mm(width_px: float, width_mm: float) -> float:
    """Pixels in a millimetre; the fallback when the stated size cannot be true."""
    if width_px <= 0 or not math.isfinite(width_mm) or width_mm < _LEAST_WIDTH_MM:
        return FALLBACK_PX_PER_MM
    found = width_px / width_mm
    return found if _LEAST_PX_PER_MM <= found <= _MOST_PX_PER_MM else FALLBACK_PX_PER_MM


@dataclass(frozen=True, slots=True)
class Sight:
    """How many pixels an angle takes on this screen for this runner."""

    px_per_mm: float
    distance_m: float

    def px(self, arcmin: float) -> float:
        """Height in pixels that spans ``arcmin``."""
        return height_mm(arcmin, self.distance_m) * self.px_per_mm


@dataclass(frozen=True, slots=True)
class Places:
    """Every place of the screen.

    None overlaps another, but ``message`` takes the middle ones and ``action`` the note's.
    """

    title: Box
    clock: Box
    number: Box
    gauge: Box
    line: Box
    note: Box
    stop: Box
    action: Box
    """For a second button, over the note."""
    message: Box
    """Number, gauge and line together: for a page of words."""
    number_cap_px: float
    """Wanted height of the digits."""
    line_cap_px: float
    """Wanted height of the capitals in the line of words, in titles and in messages."""
    label_cap_px: float
    read_cap_px: float


def is_large_enough(places: Places, sight: Sight) -> bool:
    """Whether the number can be as high as it must be to be read from there."""
    return places.number.height >= NUMBER_ROOM * sight.px(NUMBER_ARCMIN) * _ROUNDING


def arrange(width_px: float, height_px: float, sight: Sight) -> Places:
    """Divide a window of this size.

    The number and the line of words get room for their wanted heights, the line in two rows
    where the window is too narrow for one. In a window too small for that, all shrink alike, the
    number only as far as its height allows, or to half of the middle.
    The places depend on the window alone, so that nothing jumps when the words change.
    """
    margin = MARGIN_SHARE * min(width_px, height_px)
    left, inner = margin, width_px - 2 * margin
    head = min(1.7 * sight.px(LABEL_ARCMIN), 0.095 * height_px)
    stop_width = min(max(STOP_MM[0] * sight.px_per_mm, 0.2 * inner), 0.45 * inner)
    foot = min(max(STOP_MM[1] * sight.px_per_mm, 0.11 * height_px), 0.135 * height_px)
    middle = height_px - 3 * margin - head - foot
    number_cap, line_cap = sight.px(NUMBER_ARCMIN), sight.px(LINE_ARCMIN)
    rows = 1 if LINE_CHARACTERS * CHARACTER_WIDTH * line_cap <= inner else 2
    number, gauge, line = _share_out(
        middle, _NUMBER_WANTED * number_cap, 0.21 * middle, 1.0 * block_height(rows) * line_cap
    )
    top = 1.5 * margin + head
    foot_y = height_px - margin - foot
    return Places(
        title=Box(left, margin, 0.62 * inner, head),
        clock=Box(left + 0.65 * inner, margin, 0.35 * inner, head),
        number=Box(left, top, inner, number),
        gauge=Box(left, top + number, inner, gauge),
        line=Box(left, top + number + gauge, inner, line),
        note=Box(left, foot_y, inner - stop_width - margin, foot),
        stop=Box(left + inner - stop_width, foot_y, stop_width, foot),
        action=Box(left, foot_y, min(1.5 * stop_width, inner - stop_width - margin), foot),
        message=Box(left, top, inner, middle),
        number_cap_px=max(number_cap, 0.78 * number),
        line_cap_px=max(line_cap, min(0.7 * line / block_height(rows), 0.4 * number)),
        label_cap_px=min(sight.px(LABEL_ARCMIN), 0.55 * head),
        read_cap_px=sight.px(READ_ARCMIN),
    )


def _share_out(room: float, number: float, gauge: float, line: float) -> tuple[float, float, float]:
    """Divide the middle of the screen: what is spare goes round, most of it to the number."""
    needed = number + gauge + line
    if needed >= room:
        shrink = room / needed
        least = min(number * NUMBER_ROOM / _NUMBER_WANTED, 0.5 * room)
        if shrink * number >= least:
            return shrink * number, shrink * gauge, shrink * line
        shrink = (room - least) / (gauge + line)
        return least, shrink * gauge, shrink * line
    spare = room - needed
    return number + 0.5 * spare, gauge + 0.3 * spare, line + 0.2 * spare
