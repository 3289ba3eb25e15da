"""What the runner's screen shows of cautions, pauses, warnings and ratings: the gravest first."""

from __future__ import annotations

from typing import Any

import pytest

from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.runner.model import Button, RunnerPage, Showing, show
from feedback.texts.runner import CAUTIONS, words
from shared.messages import SessionState, StopReason
from shared.problems import describe
from shared.targets import Question
from tests.feedback.link.examples import snapshot


def shown(**changes: Any) -> Showing:
    return show(LinkStatus(LinkState.JOINED, "", snapshot(**changes), 10, stop_asked=False), 10)


def test_cautions_are_all_there_with_a_button_to_confirm_and_one_to_stop() -> None:
    showing = shown(state=SessionState.CAUTIONS)
    assert showing.small_print == tuple(words(key) for key in CAUTIONS)
    assert (showing.button, showing.action) == (Button.STOP, Button.CONFIRM)
    assert (showing.title, showing.clock) == ("", "")


def test_a_pause_can_be_ended_or_stopped() -> None:
    showing = shown(state=SessionState.PAUSED)
    assert (showing.button, showing.action, showing.pausable) == (Button.STOP, Button.GO_ON, False)


@pytest.mark.parametrize("state", [SessionState.READY, SessionState.RUNNING])
def test_no_second_button_otherwise(state: SessionState) -> None:
    assert shown(state=state).action is None


def test_the_edge_of_the_belt_takes_the_place_of_all_else() -> None:
    lost = describe("no_runner")
    showing = shown(warning="warn_belt_edge", problems=(lost,), asked=Question.PAIN)
    assert showing.page is RunnerPage.MESSAGE
    assert showing.heading == "Move forward"


def test_noted_pain_takes_the_line_and_a_question_leaves_it_there() -> None:
    assert shown(warning="warn_pain").line == "Pain noted: ease off"
    asked = shown(warning="warn_pain", asked=Question.PAIN)
    assert (asked.line, asked.rates) == ("Pain noted: ease off", Question.PAIN)
    assert asked.title == "Pain? Press 0 to 10"


@pytest.mark.parametrize("question", Question)
def test_a_question_is_seen_even_while_there_is_no_value(question: Question) -> None:
    showing = shown(problems=(describe("no_runner"),), asked=question)
    assert words(f"ask_{question}") in showing.texts
    assert showing.rates is question


def test_a_digit_rates_pain_where_nothing_is_asked_and_nothing_once_it_is_over() -> None:
    assert shown().rates is Question.PAIN
    assert shown(state=SessionState.STOPPED, stop_reason=StopReason.PAIN).rates is None


def test_why_it_stopped_is_said() -> None:
    for reason in StopReason:
        showing = shown(state=SessionState.STOPPED, stop_reason=reason)
        assert words(f"reason_{reason}") in showing.texts


@pytest.mark.parametrize(
    "code", ["camera_moved", "scale_doubt", "second_person", "wrong_view", "picture_stretched"]
)
def test_a_doubt_is_said_in_place_of_the_value(code: str) -> None:
    problem = describe(code, view="the side")
    showing = shown(problems=(problem,))
    assert (showing.heading, showing.texts) == (problem.title, (problem.action,))


def test_belt_edges_that_are_not_watched_are_noted_and_the_value_stays() -> None:
    showing = shown(problems=(describe("edges_off"),))
    assert showing.page is RunnerPage.VALUE
    assert showing.note == describe("edges_off").title
