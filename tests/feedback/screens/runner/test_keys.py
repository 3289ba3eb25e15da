"""Digits become ratings from 0 to 10 on the runner's screen."""

from __future__ import annotations

import pytest

from feedback.screens.runner.keys import TEN_WITHIN_NS, RatingKeys
from shared.messages import Rating
from shared.targets import Question

S = 1_000_000_000
PAIN = Question.PAIN


def rated(*values: int) -> tuple[Rating, ...]:
    return tuple(Rating(what=PAIN, value=value) for value in values)


@pytest.mark.parametrize("digit", [0, 2, 3, 4, 5, 6, 7, 8, 9])
def test_every_digit_but_one_counts_at_once(digit: int) -> None:
    keys = RatingKeys()
    assert keys.press(digit, PAIN, S) == rated(digit)
    assert keys.wait(9 * S) == ()


def test_a_one_waits_for_a_nought() -> None:
    keys = RatingKeys()
    assert keys.press(1, PAIN, S) == ()
    assert keys.wait(S + TEN_WITHIN_NS) == ()
    assert keys.wait(S + TEN_WITHIN_NS + 1) == rated(1)
    assert keys.wait(9 * S) == ()


def test_one_and_nought_are_ten() -> None:
    keys = RatingKeys()
    keys.press(1, PAIN, S)
    assert keys.press(0, PAIN, S + TEN_WITHIN_NS) == rated(10)
    assert keys.wait(9 * S) == ()


def test_a_nought_that_comes_late_is_a_nought() -> None:
    keys = RatingKeys()
    keys.press(1, PAIN, S)
    assert keys.press(0, PAIN, S + TEN_WITHIN_NS + 1) == rated(1, 0)


def test_another_digit_after_a_one_takes_its_place() -> None:
    keys = RatingKeys()
    keys.press(1, PAIN, S)
    assert keys.press(3, PAIN, S + 1) == rated(1, 3)
    assert keys.press(1, PAIN, S + 2) == ()
    assert keys.press(1, PAIN, S + 3) == rated(1)


def test_the_question_is_the_one_that_was_shown_at_the_key() -> None:
    keys = RatingKeys()
    keys.press(1, Question.EFFORT, S)
    assert keys.press(0, PAIN, S + 1) == (Rating(what=Question.EFFORT, value=10),)
