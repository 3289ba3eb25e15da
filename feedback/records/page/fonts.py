"""Fonts of the printed page: which one has a letter, and in what order letters are drawn.

The fonts that every PDF reader has know Western European letters only. Others come from TrueType
fonts of this computer: on Debian those of fonts-dejavu-core (Greek, Cyrillic, Hebrew, Arabic) and
fonts-wqy-microhei (Chinese, Japanese, Korean), both free. What no font here has is drawn as "?",
and the page says so.
"""

from __future__ import annotations

import functools
import logging
import os
import re
import sys
import unicodedata
from collections.abc import Iterator
from pathlib import Path
from typing import Final, NamedTuple

from arabic_reshaper import ArabicReshaper
from bidi import get_display
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

PLAIN: Final = "Helvetica"
BOLD: Final = "Helvetica-Bold"
FILES: Final = {
    BOLD: ("DejaVuSans-Bold.ttf", "NotoSans-Bold.ttf", "arialbd.ttf", "Arial Bold.ttf"),
    PLAIN: (
        "DejaVuSans.ttf",
        "NotoSans-Regular.ttf",
        "arial.ttf",
        "Arial.ttf",
        "NotoSansHebrew-Regular.ttf",
        "NotoSansArabic-Regular.ttf",
        "wqy-microhei.ttc",
        "DroidSansFallbackFull.ttf",
        "DroidSansFallback.ttf",
        "wqy-zenhei.ttc",
        "msyh.ttc",
        "simsun.ttc",
        "msgothic.ttc",
        "malgun.ttf",
        "Arial Unicode.ttf",
        "AppleGothic.ttf",
    ),
}
"""In the order in which they are asked for a letter; bold text asks the bold ones first."""
_ARABIC: Final = ArabicReshaper(configuration={"delete_harakat": False})
_ENDS_WITH_IT: Final = re.compile(r"[ .,/%\d-]*\d")
"""Figures after the last word that is read from the right: they belong to it."""
UNREADABLE: Final = "\ufffd"
"""Stands for what no text may hold; it has no letter of its own here."""


class Run(NamedTuple):
    """Letters side by side in one font."""

    font: str
    text: str


def font_folders() -> tuple[Path, ...]:
    """Where a computer keeps its fonts."""
    home = Path.home()
    if sys.platform == "win32":
        return (
            Path(os.environ.get("WINDIR", r"C:\Windows")) / "Fonts",
            Path(os.environ.get("LOCALAPPDATA", home)) / "Microsoft" / "Windows" / "Fonts",
        )
    if sys.platform == "darwin":
        library = Path("Library/Fonts")
        return (
            home / library,
            "/" / library,
            "/System" / library,
            "/System" / library / "Supplemental",
        )
    data = Path(os.environ.get("XDG_DATA_HOME") or home / ".local/share")
    return data / "fonts", Path("/usr/local/share/fonts"), Path("/usr/share/fonts")


@functools.cache
def _fonts(bold: bool) -> tuple[tuple[str, frozenset[int]], ...]:
    """Names and letters of the fonts that are there, read in when they are first needed."""
    names = (*FILES[BOLD], *FILES[PLAIN]) if bold else FILES[PLAIN]
    here: dict[str, Path] = {}
    for folder in font_folders():
        for path in sorted(folder.rglob("*")) if folder.is_dir() else ():
            here.setdefault(path.name, path)
    return tuple(_read(here[name]) for name in names if name in here and _read(here[name])[0])


@functools.cache
def _read(path: Path) -> tuple[str, frozenset[int]]:
    """Make one font known by its file's name; an empty name for one that cannot be used."""
    try:
        font = TTFont(path.stem, str(path))
    except (TTFError, OSError, ValueError) as error:  # outlines of another kind, or broken
        logging.getLogger("beltside").info("the font %s is not used: %s", path, error)
        return "", frozenset()
    pdfmetrics.registerFont(font)
    return path.stem, frozenset(font.face.charToGlyph)


def runs(text: str, font: str) -> tuple[Run, ...]:
    """Text in the order in which it is drawn, in fonts that have its letters."""
    found: list[Run] = []
    for char in _drawn(text):
        name = _font_of(char, font)
        name, char = (font, "?") if name is None else (name, char)
        if found and found[-1].font == name:
            found[-1] = Run(name, found[-1].text + char)
        else:
            found.append(Run(name, char))
    return tuple(found)


def can_draw(text: str) -> bool:
    """Whether there is a font for every letter."""
    return all(_font_of(char, PLAIN) is not None for char in _drawn(text))


def width_of(text: str, font: str, size: float) -> float:
    """How wide it is drawn, in points."""
    return sum(float(pdfmetrics.stringWidth(one.text, one.font, size)) for one in runs(text, font))


def read_from_the_right(text: str) -> tuple[str, str, str]:
    """What is before those words, themselves with the figures that belong to them, and after."""
    at = [n for n, char in enumerate(text) if unicodedata.bidirectional(char) in ("R", "AL")]
    if not at:
        return text, "", ""
    first, last = at[0], at[-1] + 1
    while last < len(text) and unicodedata.combining(text[last]):
        last += 1
    figures = _ENDS_WITH_IT.match(text, last)
    last = last if figures is None else figures.end()
    return text[:first], text[first:last], text[last:]


def is_western(text: str) -> bool:
    """Whether the fonts that every PDF reader has are enough."""
    return all(_in_western(char) for char in text)


def lines_of(text: str, font: str, size: float, width: float) -> Iterator[str]:
    """Text broken into lines: at spaces, and between letters that are as wide as high."""
    line = ""
    for piece in _pieces(text):
        if line.strip() and width_of((line + piece).rstrip(), font, size) > width:
            yield line.strip()
            line = ""
        line += piece
    yield line.strip()


def _pieces(text: str) -> Iterator[str]:
    piece = ""
    for char in text:
        wide = unicodedata.east_asian_width(char) in ("W", "F")
        if piece and (wide or piece[-1] == " "):
            yield piece
            piece = ""
        piece += char
        if wide:
            yield piece
            piece = ""
    if piece:
        yield piece


def _drawn(text: str) -> str:
    """Letters from left to right as they are drawn, and joined where their script joins them."""
    before, inner, after = read_from_the_right(text.replace(UNREADABLE, "?"))
    if inner:
        inner = str(get_display(_ARABIC.reshape(inner), base_dir="R"))
    return before + inner + after


def _font_of(char: str, font: str) -> str | None:
    if _in_western(char):
        return font
    return next((name for name, has in _fonts(font == BOLD) if ord(char) in has), None)


@functools.cache
def _in_western(char: str) -> bool:
    try:
        char.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return True
