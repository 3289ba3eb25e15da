"""Limits: pain, how far a target may go, how often a cue may come, and ratings that are asked."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from msgspec.structs import replace

from feedback.journal.entries import RatingEntry, StateEntry
from feedback.safety.rules import (
    LEAST_CUE_GAP_NS,
    By,
    CueGate,
    PainLevel,
    pain_level,
    too_much,
)
from feedback.safety.warnings import ANSWER_WITHIN_NS, PAIN_SHOWN_NS, Ratings
from feedback.session.interface import Ask, Facts, Pause, Rated, Start
from feedback.session.session import Session
from shared.flow import CueKind, View
from shared.messages import SessionState, StopReason
from shared.targets import Limits, Question, Target
from tests.feedback.making import MS, S, athlete, cadence, cadence_target, strike_target, update

PAIN = Question.PAIN


# pain


@pytest.mark.parametrize("rating", range(11))
@pytest.mark.parametrize("over", [5, 2, 0])
def test_levels_of_pain(rating: int, over: int) -> None:
    level = pain_level(rating, Limits(pain_stop_over=over))
    if rating > over:
        assert level is PainLevel.OVER
    else:
        assert level is (PainLevel.CAUTION if rating >= 3 else PainLevel.FINE)


def test_figures_of_the_pain_monitoring_model() -> None:
    """Amber from 3, stop over 5 (Silbernagel 2007, secondary summary)."""
    levels = [pain_level(rating, Limits()) for rating in range(11)]
    assert levels == [PainLevel.FINE] * 3 + [PainLevel.CAUTION] * 3 + [PainLevel.OVER] * 5


def running(**changes: Any) -> Session:
    runner = replace(athlete(strike_target()), limits=Limits(**changes))
    session = Session(runner, View.SIDE)
    session.on_tick(0, Facts())
    session.on_command(Start(), 0)
    return session


def rated(value: int, what: Question = PAIN) -> Rated:
    return Rated(what=what, value=value, source="test")


def test_pain_over_the_limit_ends_the_session_and_is_on_record() -> None:
    session = running()
    outputs = session.on_command(rated(6), S)
    assert outputs.stop is StopReason.PAIN
    rating, state = outputs.journal
    assert isinstance(rating, RatingEntry)
    assert isinstance(state, StateEntry)
    assert (rating.value, rating.asked, state.reason) == (6, False, StopReason.PAIN)


def test_a_clinic_may_set_the_limit_lower() -> None:
    assert running(pain_stop_over=2).on_command(rated(3), S).stop is StopReason.PAIN
    assert running().on_command(rated(3), S).stop is None


def test_pain_that_calls_for_care_is_sounded_and_shown_for_a_while() -> None:
    session = running()
    outputs = session.on_command(rated(4), S)
    assert outputs.warning is not None
    assert (outputs.warning.kind, outputs.warning.words) == (CueKind.WARNING, "warn_pain")
    snapshot = session.snapshot(2 * S)
    assert (snapshot.warning, snapshot.pain) == ("warn_pain", 4)
    assert session.snapshot(S + PAIN_SHOWN_NS).warning == ""


def test_effort_ends_nothing() -> None:
    session = running()
    assert session.on_command(rated(10, Question.EFFORT), S).stop is None
    assert session.state is SessionState.RUNNING


def test_a_question_is_shown_until_it_is_answered() -> None:
    session = running()
    session.on_command(Ask(what=PAIN), S)
    session.on_command(Ask(what=Question.EFFORT), S)
    assert session.snapshot(2 * S).asked is PAIN
    outputs = session.on_command(rated(1), 3 * S)
    entry = outputs.journal[0]
    assert isinstance(entry, RatingEntry)
    assert entry.asked
    assert session.snapshot(4 * S).asked is Question.EFFORT
    session.on_command(rated(4, Question.EFFORT), 5 * S)
    assert session.snapshot(6 * S).asked is None


def test_a_question_without_an_answer_goes_away_and_the_next_gets_its_time() -> None:
    ratings = Ratings(Limits())
    ratings.ask(PAIN, 0)
    ratings.ask(PAIN, S)
    ratings.ask(Question.EFFORT, 0)
    assert ratings.asked(ANSWER_WITHIN_NS) is PAIN
    assert ratings.asked(ANSWER_WITHIN_NS + 1) is Question.EFFORT
    assert ratings.asked(2 * ANSWER_WITHIN_NS) is Question.EFFORT
    assert ratings.asked(3 * ANSWER_WITHIN_NS) is None


# targets


def target(
    beat: float | None = None, low: float | None = None, high: float | None = None
) -> Target:
    return Target(measure="cadence", unit="steps/min", beat_spm=beat, low=low, high=high)


@pytest.mark.parametrize(
    ("asked", "own", "allowed"),
    [
        (target(beat=176.0, low=171.0, high=181.0), 160.0, True),
        (target(beat=176.1, low=171.0, high=181.0), 160.0, False),
        (target(low=170.0, high=182.0), 160.0, True),
        (target(low=172.0, high=184.0), 160.0, False),
        (target(low=177.0), 160.0, False),
        (target(low=240.0), None, True),
        (strike_target(high=5.0), 160.0, True),
    ],
)
def test_a_cadence_target_stays_within_ten_percent_of_the_own(
    asked: Target, own: float | None, allowed: bool
) -> None:
    assert (too_much(asked, Limits(), own) is None) == allowed


def test_what_is_too_much_says_what_would_be_allowed() -> None:
    found = too_much(target(beat=190.0), Limits(cadence_most_percent=5.0), 160.0)
    assert found is not None
    assert (found.field, found.value, found.allowed) == ("beat_spm", 190.0, "up to 168 steps/min")
    assert "+5 %" in found.why


@pytest.mark.parametrize(
    ("before", "after", "allowed"),
    [
        (cadence_target(), cadence_target(beat_spm=176.0), True),
        (cadence_target(), cadence_target(beat_spm=176.1), False),
        (cadence_target(beat_spm=176.0), cadence_target(beat_spm=160.0), False),
        (strike_target(high=12.0), strike_target(high=8.5), True),
        (strike_target(high=12.0), strike_target(high=8.4), False),
        (strike_target(high=12.0), cadence_target(), True),
    ],
)
def test_a_target_moves_one_step_at_a_time(before: Target, after: Target, allowed: bool) -> None:
    """5 % of 160 steps/min are 8; 5 % of the range of strike_ahead (70 cm) are 3.5."""
    assert (too_much(after, Limits(), 160.0, before) is None) == allowed


# how often


def test_no_two_cues_within_a_second() -> None:
    gate = CueGate()
    assert gate.is_open(0)
    gate.passed(5 * S)
    assert not gate.is_open(5 * S + LEAST_CUE_GAP_NS - 1)
    assert gate.is_open(5 * S + LEAST_CUE_GAP_NS)


def test_the_session_keeps_cues_apart_whatever_the_steps_say() -> None:
    """Steps that come impossibly fast, as in a faulty picture: 4 of them in 400 ms."""
    runner = athlete(cadence_target(average_steps=1, cue_gap_steps=4, hysteresis=0.0))
    session = Session(runner, View.SIDE)
    session.on_tick(0, Facts())
    session.on_command(Start(), 0)
    given: list[int] = []
    for step in range(80):
        at_ns = step * 100 * MS
        one = cadence(step, 150.0, at_ns=at_ns, captured_ns=at_ns)
        if session.on_update(update(at_ns, one), at_ns).cues:
            given.append(at_ns)
    assert len(given) >= 5
    assert all(b - a >= S for a, b in itertools.pairwise(given))


def test_a_pause_forgets_the_steps_before_it() -> None:
    session = running()
    session.on_command(Pause(by=By.SCREEN, source="test"), S)
    focus = session.snapshot(S).focus
    assert focus is not None
    assert focus.value is None
