"""What an open recogniser of speech understands of the recorded lines, in quiet and in noise."""

from __future__ import annotations

import importlib.util
import json
from typing import Any

import pytest

from feedback.sound.speech import FOLDER
from tests.feedback.sound.recognise import (
    KEPT,
    LINES,
    digest,
    heard_by_it,
    letters,
    meant,
    recogniser,
    written_down,
)

UNDERSTOOD: dict[str, dict[str, Any]] = json.loads(KEPT.read_text(encoding="utf-8"))
LEAST = {"quiet": 26 / 28, "noise": 22 / 28}
"""Share of the lines."""
SAMPLE = ("quick_light_steps.wav", "land_under_you.wav", "stay_tall_and_level.wav")
needs_recogniser = pytest.mark.skipif(
    importlib.util.find_spec("moonshine_voice") is None, reason="the recogniser is not installed"
)


def test_what_was_understood_is_of_the_recordings_as_they_are() -> None:
    """A line recorded anew has to be heard anew: python -m tests.feedback.sound.recognise."""
    assert {name: one["sha256"] for name, one in UNDERSTOOD.items()} == {
        name: digest(FOLDER / name) for name in LINES
    }


@pytest.mark.parametrize("how", LEAST)
def test_the_lines_are_understood(how: str) -> None:
    right = [name for name, one in UNDERSTOOD.items() if meant(one[how]) == LINES[name]]
    assert len(right) >= LEAST[how] * len(LINES)


def test_most_are_written_down_letter_for_letter_in_quiet() -> None:
    exact = [n for n, one in UNDERSTOOD.items() if letters(one["quiet"]) == letters(LINES[n])]
    assert len(exact) >= 24


@pytest.mark.parametrize("heard", ["", "one two three", "the", "Good morning", "Wikipedia"])
def test_what_is_like_no_line_is_not_taken_for_one(heard: str) -> None:
    assert meant(heard) is None


@needs_recogniser
def test_the_recogniser_still_hears_what_was_kept() -> None:
    """Some lines again, so that what is kept cannot be made up."""
    by = recogniser()
    for name in SAMPLE:
        kept = UNDERSTOOD[name]
        for how in ("quiet", "noise"):
            sound = heard_by_it(FOLDER / name, in_noise=how == "noise", seed=kept["seed"])
            assert meant(written_down(by, sound)) == meant(kept[how]) == LINES[name]
