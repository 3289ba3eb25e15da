"""Every key of the panel's texts is in use, and the texts keep the rules of plain words."""

from __future__ import annotations

import re
import string
from pathlib import Path

import pytest

import feedback
from feedback.texts import clinician as wording_panel
from feedback.texts.clinician import TEXTS

FILES = [
    path
    for path in Path(next(iter(feedback.__path__))).rglob("*.py")
    if "texts.clinician import say\n" in path.read_text()
]
CODE = "\n".join(path.read_text() for path in FILES)
BUILT = (
    *("state_", "reason_", "card_", "now_", "kind_", "rating_", "column_", "side_", "about_"),
    *("legend_", "stop", "sensor_", "trend_"),
)


def test_every_key_named_in_the_code_exists() -> None:
    used = set(re.findall(r"\bsay\(\s*[\"']([^\"']+)[\"']", CODE))
    assert len(used) > 80
    assert used <= set(TEXTS)


def test_no_text_is_left_over() -> None:
    """A text that nothing asks for is a text that nobody checks."""
    named = set(re.findall(r"[\"'](\w+)[\"']", CODE))
    unused = [key for key in TEXTS if not key.startswith(BUILT) and key not in named]
    assert unused == []


@pytest.mark.parametrize("key", TEXTS)
def test_texts_promise_nothing_that_they_must_not(key: str) -> None:
    text = TEXTS[key].lower()
    forbidden = ("emergency", "diagnos", "injur", "risk", "score", "grade", "error", "exception")
    assert not any(word in text for word in forbidden)


def test_every_sign_is_one_that_every_font_has() -> None:
    assert set("".join(TEXTS.values())) <= {chr(code) for code in range(256)} | {"\u2013"}


@pytest.mark.parametrize("key", TEXTS)
def test_places_in_texts_have_names(key: str) -> None:
    names = [name for _, name, _, _ in string.Formatter().parse(TEXTS[key]) if name is not None]
    assert all(names)


def test_a_missing_text_or_place_is_noticed() -> None:
    with pytest.raises(KeyError):
        wording_panel.say("no such text")
    with pytest.raises(KeyError):
        wording_panel.say("in_force")
