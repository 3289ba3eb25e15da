"""Makes text that comes from outside fit to be shown: one line that can be seen as it is (pure).

Names, notes and words from elsewhere may hold what is no text: codes that steer a terminal, marks
that turn the reading order round, letters that nobody sees. One rule tells them, for all places:

- what is shown goes through :func:`plain_line` (or :func:`plain_lines`), which leaves out what
  cannot be seen and puts U+FFFD where something else stood that is no text (UTR #36, section 3.5:
  what is taken out unseen may join what stood apart);
- a name that a person gives is refused with the words of :func:`fault_in`.

The rule is that of the PRECIS FreeformClass (RFC 8264, section 4.3): letters, marks, digits,
punctuation, symbols and spaces; no controls, format characters, surrogates, private use, unassigned
or default-ignorable code points. Beyond it: the two joiners where writing needs them (RFC 5892,
appendix A.1 and A.2; UAX #31, section 2.3), joiners and variation selectors of emoji (UTS #51), at
most four marks on one letter (UTS #39, section 5.4), and none at the beginning of a word. Letters
that look like other letters stay: only the certificate or the key says who somebody is.
Right-to-left letters stay as well; :func:`isolated` keeps them from moving our own words.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from functools import lru_cache
from typing import Final

import msgspec

LONGEST: Final = 500
"""Letters that are shown of a text without a limit of its own."""
MOST_MARKS: Final = 4
"""On one letter (UTS #39, section 5.4)."""
_INSTEAD: Final = "\ufffd"
_CUT: Final = "…"
_NON_JOINER, _JOINER = "\u200c", "\u200d"
_TEXT_LOOK, _EMOJI_LOOK = "\ufe0e", "\ufe0f"
_MAY_HAVE_A_LOOK: Final = frozenset("#*0123456789\u203c\u2049\u3030")
"""Characters with an emoji look that are no symbols (emoji-variation-sequences.txt)."""
_BLANK: Final = "\u2800"
"""Braille for a space: a symbol to Unicode, and nothing to see."""
_UNSEEN: Final = frozenset(
    chr(code)
    for first, last in (
        (0x034F, 0x034F),
        (0x115F, 0x1160),
        (0x17B4, 0x17B5),
        (0x180B, 0x180F),
        (0x2065, 0x2065),
        (0x3164, 0x3164),
        (0xFE00, 0xFE0F),
        (0xFFA0, 0xFFA0),
        (0xFFF0, 0xFFF8),
        (0xE0000, 0xE0FFF),
    )
    for code in range(first, last + 1)
)
"""Default_Ignorable_Code_Point (UAX #44) beyond the format characters (Cf)."""
_VIRAMA_CLASS: Final = 9


def plain_line(text: str, most: int = LONGEST) -> str:
    """``text`` as one line of at most ``most`` letters, all of them to be seen.

    Any string may come in, lone surrogates too. Composed (NFC); whatever separates words or lines
    becomes one space. Done twice it gives the same.
    """
    if text.isascii() and text.isprintable() and len(text) <= most and "  " not in text:
        return text.strip(" ")
    return _plain_line(text[: 4 * most + 64], most)  # what is far beyond the limit is not looked at


@lru_cache(maxsize=512)
def _plain_line(text: str, most: int) -> str:
    """The work of it; the same notes come with every snapshot, ten times a second."""
    while True:
        line = " ".join(_visible(text).split())
        if len(line) > most:
            line = line[: most - 1].rstrip() + _CUT
        if line == text:
            return line
        text = line  # what was taken out may have kept apart what now is composed


def plain_lines(text: str) -> str:
    """The same for words of our own with such text among them: its line breaks and spaces stay."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return text
    while True:
        lines = "\n".join(_visible(line) for line in text.split("\n"))
        if lines == text:
            return lines
        text = lines


def fault_in(text: str) -> str:
    """Why ``text`` can be no name, in words that name the first wrong character; empty: it can."""
    for char, kept in _sifted(_composed(text)):
        if kept != char:
            return _in_words(char)
    from shared.language import _

    return "" if plain_line(text) else _("it cannot be read")


def isolated(text: str) -> str:
    """Plain text for a line of ours in a window: read from the right, it stays among itself.

    With the marks of UAX #9 around it where it needs them; a terminal may show those as boxes.
    """
    from_the_right = any(unicodedata.bidirectional(char) in ("R", "AL") for char in text)
    return f"\u2068{text}\u2069" if from_the_right else text


def keep_plain(value: msgspec.Struct, *fields: str, most: int = LONGEST) -> None:
    """Make texts of a new struct plain: for its ``__post_init__``, so however it comes to be."""
    for field in fields:
        msgspec.structs.force_setattr(value, field, plain_line(getattr(value, field), most))


def plain_message(message: msgspec.Struct) -> None:
    """Make every text in a message that has just been read plain, in what it is made of too."""
    for field in message.__struct_fields__:
        value = getattr(message, field)
        if type(value) is str:  # a word of an enumeration is one of ours
            msgspec.structs.force_setattr(message, field, plain_line(value))
        elif isinstance(value, msgspec.Struct):
            plain_message(value)
        elif isinstance(value, tuple) and value:
            if type(value[0]) is str:
                plain = tuple(plain_line(one) for one in value)
                msgspec.structs.force_setattr(message, field, plain)
            elif isinstance(value[0], msgspec.Struct):
                for one in value:
                    plain_message(one)


def _composed(text: str) -> str:
    return unicodedata.normalize("NFC", text)


def _visible(text: str) -> str:
    return _composed("".join(kept for _, kept in _sifted(_composed(text))))


def _sifted(text: str) -> Iterator[tuple[str, str]]:
    """Each character with what stays of it: itself, another one, or nothing."""
    before, letter, marks = "", "", 0
    for at, char in enumerate(text):
        if char in (_NON_JOINER, _JOINER):
            after = text[at + 1 : at + 2]
            kept = char if _joins(before, letter, char, after) else ""
        elif char in (_TEXT_LOOK, _EMOJI_LOOK):
            kept = char if _is_symbol(before) or before in _MAY_HAVE_A_LOOK else ""
        else:
            kept = _alone(char)
            kind = unicodedata.category(kept) if len(kept) == 1 else ""
            if kind.startswith("M") and (before in ("", " ") or marks >= MOST_MARKS):
                kept = ""
            elif kind in ("Mn", "Me"):
                marks += 1
            elif kept:
                letter, marks = kept, 0
            if kept == before == _INSTEAD and char != _INSTEAD:
                kept = ""  # one for a run of them
        before = kept or before
        yield char, kept


def _alone(char: str) -> str:
    """What stays of a character wherever it stands."""
    if char.isspace() or char == _BLANK:
        return " "
    kind = unicodedata.category(char)
    if kind == "Cf" or char in _UNSEEN:
        return ""
    return _INSTEAD if kind.startswith("C") else char


def _joins(before: str, letter: str, joiner: str, after: str) -> bool:
    """Whether a joiner has something to join or to keep apart here; ``letter``: the last one."""
    if not before or not after:
        return False
    if unicodedata.combining(before) == _VIRAMA_CLASS:
        return True
    if joiner == _NON_JOINER:
        # Of the scripts that join their letters, those of Arabic's kind.
        return all(unicodedata.bidirectional(one) == "AL" for one in (letter, after))
    if unicodedata.combining(after) == _VIRAMA_CLASS:
        return True  # Bengali ra with ya-phalaa
    return (_is_symbol(before) or before == _EMOJI_LOOK) and _is_symbol(after)


def _is_symbol(char: str) -> bool:
    """A symbol, such as an emoji, or an emoji's skin tone."""
    return len(char) == 1 and (
        unicodedata.category(char) in ("So", "Sm") or "\U0001f3fb" <= char <= "\U0001f3ff"
    )


def _in_words(char: str) -> str:
    from shared.language import _

    name, code = unicodedata.name(char, "").lower(), f"{ord(char):04X}"
    if not name:
        return _("it contains U+{code}, which cannot be read").format(code=code)
    text = _("it contains U+{code} ({name}), which cannot be read")
    return text.format(code=code, name=name)
