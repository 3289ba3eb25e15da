"""Belt speeds and body heights in the units that a user prefers (pure).

Kept and reckoned with is km/h and cm alone; what is typed is turned into these at once, and what
is shown is turned back. An international mile is 1609.344 m and an international foot 0.3048 m,
both exactly (NIST Special Publication 811, appendix B.8); a foot has 12 inches.
"""

from __future__ import annotations

import math
import re
from typing import Final

MILE_KM: Final = 1.609344
FOOT_CM: Final = 30.48
INCHES: Final = 12
SPEED_UNITS: Final = ("km/h", "mph", "min/km", "min/mile")
LENGTH_UNITS: Final = ("cm", "ft/in")
_NUMBER: Final = re.compile(r"\d{1,3}(?:[.,]\d{1,3})?")
_PACE: Final = re.compile(r"(\d{1,3}):([0-5]?\d(?:[.,]\d)?)")
_FEET_SIGN: Final = "(?:['\u2019\u2032]|ft\\.?|feet)"
_INCH_SIGN: Final = "(?:[\"\u201d\u2033]|''|in\\.?|inches)"
_FEET: Final = re.compile(
    rf"(\d)\s*{_FEET_SIGN}?(?:(?<!\d)\s*(\d{{1,2}}(?:[.,]\d{{1,2}})?)\s*{_INCH_SIGN}?)?"
)


def kmh_of(typed: str, unit: str) -> float | None:
    """The speed that was typed, in km/h; None where it is no number (or no pace) above 0.

    A pace may be typed as minutes and seconds, such as ``5:30``, or as a number of minutes.
    """
    value = _minutes(typed) if unit.startswith("min/") else _number(typed)
    if value is None or value <= 0:
        return None
    match unit:
        case "mph":
            return value * MILE_KM
        case "min/km":
            return 60 / value
        case "min/mile":
            return 60 * MILE_KM / value
    return value


def speed_text(kmh: float, unit: str) -> str:
    """A speed as it is typed in that unit, without the unit: ``10.1``, or ``5:56`` for a pace."""
    match unit:
        case "mph":
            return _short(kmh / MILE_KM)
        case "min/km":
            return _as_pace(60 / kmh)
        case "min/mile":
            return _as_pace(60 * MILE_KM / kmh)
    return _short(kmh)


def cm_of(typed: str, unit: str) -> float | None:
    """The height that was typed, in cm; None where it is none.

    Feet and inches: ``5'8"``, ``5 8``, ``5 ft 8 in`` or ``5'``.
    """
    if unit != "ft/in":
        return _number(typed)
    found = _FEET.fullmatch(typed.strip())
    if found is None:
        return None
    inches = float((found[2] or "0").replace(",", "."))
    if inches >= INCHES:
        return None
    return (int(found[1]) + inches / INCHES) * FOOT_CM


def length_text(cm: float, unit: str) -> str:
    """A height as it is typed in that unit; of cm without the unit, such as ``172``."""
    if unit != "ft/in":
        return _short(cm)
    halves = round(2 * INCHES * cm / FOOT_CM)  # to half an inch
    feet, halves = divmod(halves, 2 * INCHES)
    return f"{feet}'{halves / 2:g}\""


def _number(typed: str) -> float | None:
    typed = typed.strip()
    return float(typed.replace(",", ".")) if _NUMBER.fullmatch(typed) else None


def _minutes(typed: str) -> float | None:
    found = _PACE.fullmatch(typed.strip())
    if found is None:
        return _number(typed)
    return int(found[1]) + float(found[2].replace(",", ".")) / 60


def _as_pace(minutes: float) -> str:
    seconds = math.floor(minutes * 60 + 0.5)
    return f"{seconds // 60}:{seconds % 60:02d}"


def _short(value: float) -> str:
    """To a tenth, without a tenth that is none."""
    return f"{round(value, 1):g}"
