"""Numbers, dates, times and lengths of time as the language in use writes them: one place.

English is written here as it always was. For all other languages the Unicode CLDR's data decide, by
the library babel, which is loaded only then: it takes a screen 75 ms at its start.
"""

from __future__ import annotations

from datetime import date, datetime
from functools import lru_cache

from shared.language import ENGLISH, _n, language


def decimal(value: float, decimals: int, *, sign: bool = False) -> str:
    """A number rounded to so many decimals, without grouping, as f"{value:.2f}" is in English.

    ``sign``: with a plus where it is positive. Not a number and infinite ones come as Python's.
    """
    return localised(f"{value:{'+' if sign else ''}.{decimals}f}")


def general(value: float) -> str:
    """A number with no more decimals than it has, as f"{value:g}" is in English."""
    return localised(f"{value:g}")


def localised(number: str) -> str:
    """A number that is written in English, such as -1.50, as this language writes it."""
    point = _point(language())
    return number if point == "." else number.replace(".", point)


def day(when: date) -> str:
    """A day: 2026-03-05 in English, as in all files; 05.03.2026 in German."""
    if language() == ENGLISH:
        return f"{when:%Y-%m-%d}"
    from babel.dates import format_date

    pattern = _day_pattern(language())
    return format_date(when, pattern, locale=language())


def day_and_time(when: datetime) -> str:
    """A day with hour and minute, on the clock that ``when`` stands on."""
    return f"{day(when)} {when:%H:%M}"


def minutes_and_seconds(seconds: float) -> str:
    """A length of time as 12:05; below zero it is none."""
    whole = max(0, int(seconds))
    return f"{whole // 60}:{whole % 60:02d}"


def days(count: int) -> str:
    """So many days."""
    return _n("{count} day", "{count} days", count).format(count=count)


def sessions(count: int) -> str:
    """So many sessions."""
    return _n("{count} session", "{count} sessions", count).format(count=count)


def files(count: int) -> str:
    """So many files."""
    return _n("{count} file", "{count} files", count).format(count=count)


@lru_cache
def _point(code: str) -> str:
    if code == ENGLISH:
        return "."
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(code)


@lru_cache
def _day_pattern(code: str) -> str:
    """The short one of the language, with all four digits of the year."""
    from babel.dates import get_date_format

    pattern: str = get_date_format("short", locale=code).pattern
    return pattern if "yyyy" in pattern else pattern.replace("yy", "yyyy")
