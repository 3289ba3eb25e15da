"""Text from outside: nothing unseen is left of it, and what people write stays as it is."""

from __future__ import annotations

import unicodedata

import msgspec
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from shared.plain_text import (
    MOST_MARKS,
    fault_in,
    isolated,
    keep_plain,
    plain_line,
    plain_lines,
    plain_message,
)

TRICKY = st.text(
    # Joiners, looks, viramas, marks that compose, halves of syllables, emoji, surrogates, spaces.
    alphabet="\x1b\x00\u200c\u200d\ufe0f\u202e\u200b\u094d\u09cd\u0dca\u0dd9\u0301\u0345"
    "\u0628\u06cc\u064b\U0001f469\u2764\ud800\n\u2028 ae\u1100\u1161\u115f\ufffd\u2800",
    max_size=40,
)
ANY = st.text(st.characters(), max_size=80)  # all of Unicode, lone surrogates too
OF_A_KIND = st.text(st.characters(categories=["Mn", "Me", "Cf", "Cs", "Co", "Cn"]), max_size=40)
TEXTS = st.one_of(ANY, TRICKY, OF_A_KIND)

# Default_Ignorable_Code_Point beyond Cf, of DerivedCoreProperties.txt (Unicode 14), but for the
# two looks of emoji; checked against perl's \p{Default_Ignorable_Code_Point} as well.
IGNORED = (
    "\u034f\u115f\u1160\u17b4\u17b5\u180b\u180c\u180d\u180f\u2065\u3164\uffa0\ufff0\ufff8"
    "\ufe00\ufe0d\U000e0000\U000e0041\U000e01ef\U000e0fff"
)
BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"  # UAX #9, 2


def unfit_in(text: str) -> set[str]:
    """Characters that no shown line may have, by their category."""
    joiners = "\u200c\u200d"
    return {
        char
        for char in text
        if (unicodedata.category(char)[0] == "C" and char not in joiners)
        or unicodedata.category(char) in ("Zl", "Zp")
        or (char.isspace() and char != " ")
        or char in IGNORED
    }


@settings(deadline=None)
@given(TEXTS, st.integers(1, 60))
@example("\u0dd9\u200b\u0dca\u200dx", 60)  # composes once what stands between is gone
@example("a" * 59 + "\u0301\u0301", 60)
def test_a_line_holds_nothing_unfit_is_short_composed_and_stays_as_it_is(
    text: str, most: int
) -> None:
    line = plain_line(text, most)
    assert unfit_in(line) == set()
    assert len(line) <= most
    assert unicodedata.is_normalized("NFC", line)
    assert plain_line(line, most) == line
    assert "  " not in line
    assert line == line.strip()
    marks = 0
    for number, char in enumerate(line):
        kind = unicodedata.category(char)
        assert not (kind[0] == "M" and (number == 0 or line[number - 1] == " "))
        marks = marks + 1 if kind in ("Mn", "Me") else marks if char in "\u200c\u200d" else 0
        assert marks <= MOST_MARKS
    line.encode()


@settings(deadline=None)
@given(TEXTS)
def test_lines_of_ours_keep_their_breaks_and_stay_as_they_are(text: str) -> None:
    lines = plain_lines(text)
    assert unfit_in(lines.replace("\n", "")) == set()
    assert lines.count("\n") == text.count("\n")
    assert plain_lines(lines) == lines


@settings(deadline=None)
@given(TEXTS)
def test_a_name_without_a_fault_is_shown_whole(text: str) -> None:
    if not fault_in(text):
        assert plain_line(text, 1000) == " ".join(unicodedata.normalize("NFC", text).split())


@pytest.mark.parametrize(
    "text",
    [
        "Heron 7",
        "Zoë Müller-Łukasz",
        "Ελένη",
        "Наталья",
        "שָׁלוֹם עוֹלָם",
        "مَرْحَبًا",
        "می\u200cخواهم",  # noqa: RUF001 - Persian, kept apart (RFC 5892, A.1)
        "क्\u200dष",  # Devanagari: half form (RFC 5892, A.2)
        "ශ්\u200dරී",  # Sinhala
        "র\u200d্য",  # Bengali ra with ya-phalaa
        "ไทยที่",
        "தமிழ்",
        "ကြွေ",
        "한국어",
        "日本語の名前",
        "👩\u200d💻 👩🏽\u200d🚀 ❤\ufe0f 1\ufe0f\u20e3 🙂\u200d↔\ufe0f 🇳🇴",  # UTS #51
        "a/b (c) + 50 % – «d» “e” € №",  # noqa: RUF001
    ],
)
def test_what_people_write_stays(text: str) -> None:
    whole = unicodedata.normalize("NFC", text)
    assert plain_line(text) == whole
    assert plain_lines(text) == whole
    assert fault_in(text) == ""


def test_the_letters_of_every_script_stay() -> None:
    letters = [
        char
        for char in map(chr, range(0x110000))
        if unicodedata.category(char) in ("Lu", "Ll", "Lt", "Lm", "Lo", "Nd")
        and char not in IGNORED
        # What NFC writes in another way is written so.
        and unicodedata.is_normalized("NFC", char)
    ]
    assert len(letters) > 120_000
    assert [char for char in letters if plain_line(char) != char or fault_in(char)] == []


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("room\x1b[2J 1", "room\ufffd[2J 1"),
        ("a\x1b]52;c;aGk=\x07b", "a\ufffd]52;c;aGk=\ufffdb"),
        ("a\x9b31mb", "a\ufffd31mb"),
        ("a\x00b", "a\ufffdb"),
        ("a\x00\x01\ud800\ue000\U0010ffff\u0378b", "a\ufffdb"),  # one for a run
        (
            "one\r\ntwo\tthree\u2028four\x85five\u00a0six\u3000seven",
            "one two three four five six seven",
        ),
        ("a\u2800b", "a b"),
        ("e\u0301", "é"),
        ("e\u200b\u0301", "é"),
        ("de\u200bsk", "desk"),
        ("a\u200db", "ab"),
        ("a\ufe0fb", "ab"),
        ("q\u0307\u200c\u0307", "q\u0307\u0307"),
        ("x" + "\u0336" * 50, "x" + "\u0336" * 4),
        ("\u0301x", "x"),
        ("🏴" + "\U000e0067\U000e0062\U000e007f", "🏴"),
        ("", ""),
        (" \u200b\n", ""),
    ],
)
def test_what_is_no_text_is_left_out_or_marked(text: str, line: str) -> None:
    assert plain_line(text) == line


@pytest.mark.parametrize("char", [*BIDI, *IGNORED])
def test_what_cannot_be_seen_goes(char: str) -> None:
    assert plain_line(f"a{char}b") == "ab"
    assert f"U+{ord(char):04X}" in fault_in(f"a{char}b")


@pytest.mark.parametrize(
    ("name", "fault"),
    [
        ("\u202ekseD", "it contains U+202E (right-to-left override), which cannot be read"),
        ("a\x1b[2J", "it contains U+001B, which cannot be read"),
        ("\udcff", "it contains U+DCFF, which cannot be read"),
        ("a\u00a0b", "it contains U+00A0 (no-break space), which cannot be read"),
        ("", "it cannot be read"),
        ("  ", "it cannot be read"),
        ("front desk", ""),
    ],
)
def test_a_fault_names_the_character(name: str, fault: str) -> None:
    assert fault_in(name) == fault


def test_a_long_text_is_cut_and_says_so() -> None:
    assert plain_line("x" * 41, 40) == "x" * 39 + "…"
    assert plain_line("a" * 39 + " b", 40) == "a" * 39 + "…"
    assert len(plain_line("क्\u200d" * 100_000, 50)) <= 50


def test_only_what_is_read_from_the_right_is_isolated() -> None:
    assert isolated("Heron") == "Heron"
    assert isolated("דנה 3") == "\u2068דנה 3\u2069"


class Inner(msgspec.Struct, frozen=True):
    text: str


class Outer(msgspec.Struct, frozen=True):
    name: str
    names: tuple[str, ...]
    inner: Inner
    inners: tuple[Inner, ...]
    count: int
    data: bytes


def test_every_text_of_a_message_is_made_plain() -> None:
    bad = "a\x1b\u202eb"
    message = Outer(bad, (bad, "c"), Inner(bad), (Inner(bad),), 3, b"\x1b")
    plain_message(message)
    good = "a\ufffdb"
    assert message == Outer(good, (good, "c"), Inner(good), (Inner(good),), 3, b"\x1b")


def test_a_struct_can_keep_its_texts_plain() -> None:
    value = Inner("a\nb")
    keep_plain(value, "text")
    assert value.text == "a b"
