"""Every key in use has a text, and the texts keep the rules of plain, short words."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

import feedback
from feedback.cueing.cues import cue_key
from feedback.screens.runner.layout import LINE_CHARACTERS
from feedback.texts import runner as wording
from feedback.texts.runner import TEXTS, clock, number, words
from shared.catalogue import CATALOGUE
from shared.flow import BandState
from shared.messages import StopReason

LINES = {key: text for key, text in TEXTS.items() if key.startswith(("cue_", "line_"))}


@pytest.mark.parametrize("measure", CATALOGUE)
def test_every_measure_has_its_cue_lines(measure: str) -> None:
    for state in (BandState.BELOW, BandState.ABOVE):
        assert words(cue_key(measure, state))


def test_the_beat_is_named_only_where_one_sounds() -> None:
    assert cue_key("cadence", BandState.BELOW, beat=True) == "cue_beat"
    assert cue_key("cadence", BandState.BELOW) == "cue_cadence_below"
    assert cue_key("strike_ahead", BandState.ABOVE, beat=True) == "cue_strike_ahead_above"
    assert cue_key("cadence", BandState.INSIDE, beat=True) == ""


@pytest.mark.parametrize("reason", [*StopReason, "unknown"])
def test_every_reason_to_stop_is_told(reason: str) -> None:
    assert words(f"reason_{reason}")


@pytest.mark.parametrize("state", BandState)
def test_every_state_has_a_line(state: BandState) -> None:
    assert words(f"line_{state}")


def test_every_key_named_in_the_code_exists() -> None:
    used = set()
    for path in Path(next(iter(feedback.__path__))).rglob("*.py"):
        used |= set(re.findall(r'\bwords\(\s*"([^"]+)"', path.read_text()))
    assert len(used) > 15
    assert used <= set(TEXTS)


def test_no_text_is_left_over() -> None:
    """A text that nothing asks for is a text that nobody checks."""
    code = "\n".join(
        path.read_text()
        for path in Path(next(iter(feedback.__path__))).rglob("*.py")
        if path != Path(wording.__file__)
    )
    code += (Path(wording.__file__).read_text()).split("def words(", 1)[1]
    built = (
        *("cue_", "reason_", "line_", "side_", "next_"),
        *("stop", "close", "confirm", "go_on", "safety_", "warn_", "ask_"),
    )
    unused = [key for key in TEXTS if not key.startswith(built) and f'"{key}"' not in code]
    assert unused == []


def test_lines_can_be_read_at_a_glance() -> None:
    assert [text for text in LINES.values() if len(text) > LINE_CHARACTERS] == []


def test_cue_lines_point_away_from_the_body() -> None:
    body = r"\b(foot|feet|leg|legs|knee|knees|hip|hips|ankle|arm|arms|hand|hands|pelvis|trunk)\b"
    cues = [text for key, text in LINES.items() if key.startswith("cue_")]
    assert [text for text in cues if re.search(body, text.lower())] == []


@pytest.mark.parametrize("key", TEXTS)
def test_texts_promise_nothing_that_they_must_not(key: str) -> None:
    text = TEXTS[key].lower()
    forbidden = ("emergency", "diagnos", "injur", "risk", "score", "grade", "error", "exception")
    if key == "safety_device":
        assert "not a medical device: it does not diagnose and does not predict injury" in text
    else:
        assert not any(word in text for word in forbidden)


def test_every_sign_is_one_that_every_font_has() -> None:
    assert set("".join(TEXTS.values())) <= {chr(code) for code in range(256)} | {"\u2013"}


@pytest.mark.parametrize("key", TEXTS)
def test_places_in_texts_have_names(key: str) -> None:
    names = [name for _, name, _, _ in string.Formatter().parse(TEXTS[key]) if name is not None]
    assert all(names)


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (9.84, 1, "9.8"),
        (164.4, 0, "164"),
        (-0.04, 1, "0.0"),
        (-3.26, 1, "\u20133.3"),
        (None, 1, "\u2013"),
        (float("nan"), 0, "\u2013"),
    ],
)
def test_numbers_are_rounded_and_never_minus_nothing(
    value: float | None, decimals: int, text: str
) -> None:
    assert number(value, decimals) == text


def test_clock() -> None:
    assert [clock(s) for s in (0.0, 5.9, 65.0, 3_600.0, -3.0)] == [
        "0:00",
        "0:05",
        "1:05",
        "60:00",
        "0:00",
    ]
