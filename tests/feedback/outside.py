"""Text as somebody would send it who means harm, and what may be left of it where it is shown."""

from __future__ import annotations

import base64
import re
import unicodedata
import zlib
from typing import Final

STEERS: Final = (
    "a\x1b[2J"  # ECMA-48: clear the screen
    "\x1b]8;;http://192.0.2.1/\x07link\x1b]8;;\x07"  # a link behind other words (OSC 8)
    "\x1b]52;c;aGk=\x07"  # put something into the clipboard (OSC 52)
    "\x9b31m"  # the same as ESC [, in one character
    "\x00\x08\x7f"
)
TURNS: Final = "\u202eexe.gnp\u2066\u200f\u061c"  # UAX #9
UNSEEN: Final = "\u200bin\u2060vis\ufeffible\u3164\U000e0041\ufe00"
BREAKS: Final = "\r\nForged: line\u2028two\x85"
MARKUP: Final = "<img src=x><b>bold</b> & [red]red[/red] :smile:"
WICKED: Final = f"{STEERS} {TURNS} {UNSEEN} {BREAKS} {MARKUP}"
WICKED_NAME: Final = "=1\x1b[2J\u202eseman\u200b\x9b<b>"
"""For places that take 40 letters."""


def unfit(text: str) -> set[str]:
    """What no terminal and no page may be given: all but letters, signs, spaces, line breaks."""
    return {
        f"U+{ord(char):04X}"
        for char in text
        if (
            unicodedata.category(char) in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")
            and char != "\n"
        )
        or char in "\u3164\ufe00"
    }


def assert_fit(text: str | bytes) -> None:
    """Nothing in it steers, turns round or hides, and no line is forged."""
    said = text.decode() if isinstance(text, bytes) else text
    assert unfit(said) == set(), said
    assert not re.search(r"(?m)^Forged: ", said), said


def drawn_in(pdf: bytes) -> bytes:
    """All that the pages of a PDF draw, its streams taken apart (ISO 32000-1, section 7.4)."""
    # Fonts are streams as well, but of bytes as they are.
    streams = re.findall(rb"/ASCII85Decode[^>]*>>\s*stream\r?\n(.*?)endstream", pdf, re.DOTALL)
    assert streams
    return b"\n".join(
        zlib.decompress(base64.a85decode(stream.strip().removesuffix(b"~>"))) for stream in streams
    )
