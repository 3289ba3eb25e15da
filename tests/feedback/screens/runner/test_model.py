"""What is shown follows from what is known: never a stale number, always a reason."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.cueing.cues import cue_key
from feedback.link.client_state import LinkState, LinkStatus
from feedback.screens.runner.gauge import gauge
from feedback.screens.runner.model import (
    GONE_AFTER_NS,
    NO_VALUE_AFTER_NS,
    NOTES,
    Button,
    RunnerPage,
    Showing,
    show,
)
from feedback.texts.runner import NEXT_BEHIND, NEXT_REPORT, words
from shared.flow import BandState, Side
from shared.messages import Focus, SessionState, Snapshot, StopReason
from shared.problems import PROBLEMS, Problem, describe
from shared.targets import Question
from tests.feedback.link.examples import STRIKE, block, snapshot

DASH = words("no_value")


def shown(snapshot: Snapshot | None, *, silent_ns: int = 0, stop_asked: bool = False) -> Showing:
    status = LinkStatus(LinkState.JOINED, "", snapshot, 10, stop_asked)
    return show(status, 10 + silent_ns)


def focus(**changes: object) -> Focus:
    return msgspec.structs.replace(STRIKE, **changes)


def test_a_value_inside_its_band() -> None:
    showing = shown(snapshot())
    assert showing.page is RunnerPage.VALUE
    assert (showing.number, showing.unit) == ("9.8", "cm")
    assert showing.line == "On target"
    assert showing.title == "Foot ahead at landing"
    assert showing.clock == "8:55 remaining"
    assert showing.button is Button.STOP


def test_who_runs_unmeasured_reads_why_and_not_to_step_in() -> None:
    alike = describe("legs_alike")
    for state, page in (
        (SessionState.READY, RunnerPage.READY),
        (SessionState.RUNNING, RunnerPage.MESSAGE),
    ):
        showing = shown(snapshot(state=state, problems=(alike,)))
        assert (showing.page, showing.heading) == (page, alike.title)
        assert showing.texts[0] == alike.action


def test_a_session_without_a_step_ends_with_the_reason() -> None:
    alike = describe("legs_alike")
    over: dict[str, Any] = {"state": SessionState.STOPPED, "stop_reason": StopReason.RUNNER}
    texts = shown(snapshot(**over, problems=(alike,))).texts
    assert texts[1:3] == (words("stopped_unmeasured", why=alike.title), alike.action)
    full = describe("journal_failed", why="no room")
    assert shown(snapshot(**over, problems=(full,))).texts == shown(snapshot(**over)).texts


def test_a_cue_line_and_the_side_are_shown() -> None:
    above = focus(value=15.0, state=BandState.ABOVE, words="cue_strike_ahead_above", side=Side.LEFT)
    showing = shown(snapshot(focus=above))
    assert showing.line == "Land under you"
    assert showing.title == "Foot ahead at landing, left"


def test_an_unknown_line_key_falls_back_to_the_state() -> None:
    above = focus(value=15.0, state=BandState.ABOVE, words="from_a_newer_version")
    assert shown(snapshot(focus=above)).line == "Above target"


@pytest.mark.parametrize(
    "unknown",
    [
        {"value": None},
        {"value": None, "state": BandState.UNKNOWN},
        {"value": 9.0, "state": BandState.UNKNOWN},
        {"value": float("nan")},
        {"value": float("inf"), "state": BandState.ABOVE},
    ],
)
def test_no_value_is_a_dash(unknown: dict[str, object]) -> None:
    showing = shown(snapshot(focus=focus(**unknown)))
    assert (showing.number, showing.unit) == (DASH, "")
    assert showing.state is BandState.UNKNOWN
    assert showing.gauge is not None
    assert showing.gauge.marker is None


def test_a_number_is_never_older_than_it_may_be() -> None:
    assert shown(snapshot(), silent_ns=NO_VALUE_AFTER_NS).number == "9.8"
    assert shown(snapshot(), silent_ns=NO_VALUE_AFTER_NS + 1).number == DASH
    gone = shown(snapshot(), silent_ns=GONE_AFTER_NS + 1)
    assert gone.heading == words("gone_title")
    assert gone.number == ""
    assert gone.final


@pytest.mark.parametrize("problem", PROBLEMS.values(), ids=lambda problem: problem.code)
def test_a_problem_takes_the_place_of_the_number_or_is_noted(problem: Problem) -> None:
    showing = shown(snapshot(problems=(problem,)))
    if problem.code in NOTES:
        assert showing.number == "9.8"
        assert showing.note == problem.title
    else:
        assert showing.page is RunnerPage.MESSAGE
        assert showing.number == ""
        assert showing.heading == problem.title
        assert showing.texts == (problem.action,)
    assert showing.button is Button.STOP


def test_notes_are_problems_that_exist() -> None:
    assert set(PROBLEMS) >= NOTES


def test_a_note_never_hides_a_problem() -> None:
    both = (describe("sound_missing"), describe("no_runner"))
    showing = shown(snapshot(problems=both))
    assert showing.heading == "No runner detected."
    assert showing.note == "There is no sound output."


def test_before_the_run_the_safety_words_are_shown() -> None:
    for problems in ((), (describe("no_runner"),)):
        showing = shown(snapshot(state=SessionState.READY, problems=problems))
        assert showing.page is RunnerPage.READY
        assert "safety key" in showing.small_print[0]
        assert "never drives the belt" in showing.small_print[2]


def test_stop_is_answered_at_once_on_the_screen() -> None:
    showing = shown(snapshot(), stop_asked=True)
    assert showing.heading == "Stopping"
    assert showing.number == ""
    assert showing.button is Button.STOP, "it can be asked again"


@pytest.mark.parametrize("reason", StopReason)
@pytest.mark.parametrize("state", LinkState)
def test_a_stopped_session_says_why_and_stays_so(reason: StopReason, state: LinkState) -> None:
    over = snapshot(state=SessionState.STOPPED, stop_reason=reason, saved=True)
    showing = show(LinkStatus(state, "", over, 0, True), 3_600_000_000_000)
    assert showing.heading == "Stopped"
    assert showing.texts == (
        words(f"reason_{reason}"),
        "The session is saved.",
        words("stopped_belt"),
    )
    assert showing.button is Button.CLOSE


@pytest.mark.parametrize(("saved", "part"), [(True, "is saved"), (False, "could not be saved")])
def test_saving_is_told_as_it_is(saved: bool, part: str) -> None:
    over = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME, saved=saved)
    assert any(part in text for text in shown(over).texts)
    unknown = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME)
    assert not any("saved" in text for text in shown(unknown).texts)


def test_the_demo_speaks_of_no_belt() -> None:
    over = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME, demo=True)
    assert shown(over).texts == (words("reason_time"),)


@pytest.mark.parametrize(("then", "goes_on"), [(NEXT_BEHIND, True), (NEXT_REPORT, False)])
def test_an_end_tells_what_follows_by_itself(then: str, goes_on: bool) -> None:
    over = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.TIME, demo=True, then=then)
    showing = shown(over)
    assert showing.heading == words(f"{then}_title")
    assert showing.texts[0] == words(f"{then}_text")
    assert (words("next_keys") in showing.texts) is goes_on
    assert showing.button is (Button.STOP if goes_on else Button.CLOSE)
    unknown = msgspec.structs.replace(over, then="of a newer version")
    assert shown(unknown).texts == (words("reason_time"),)


def test_ends_of_the_link() -> None:
    lost = show(LinkStatus(LinkState.LOST, "reset", snapshot(), 0, False), 0)
    assert lost.heading == "The station has stopped"
    assert lost.number == ""
    refused = show(LinkStatus(LinkState.REFUSED, "Its key is unknown.", None, 0, False), 0)
    assert refused.texts[0] == "Its key is unknown."
    assert {lost.button, refused.button} == {Button.CLOSE}


def test_without_a_target_there_is_no_gauge() -> None:
    showing = shown(snapshot(focus=None))
    assert (showing.number, showing.gauge, showing.line) == (DASH, None, "Run easy")


def test_time_without_a_limit_counts_up() -> None:
    assert shown(snapshot(remaining_s=None)).clock == "1:05 so far"


def test_gauge_of_a_closed_band_puts_it_in_the_middle() -> None:
    cadence = Focus(
        measure="cadence",
        side=None,
        unit="steps/min",
        low=171.0,
        high=179.0,
        value=175.0,
        state=BandState.INSIDE,
        words="",
    )
    found = gauge(cadence, 175.0)
    assert found is not None
    assert found.low == pytest.approx(1 / 3)
    assert found.high == pytest.approx(2 / 3)
    assert found.marker == pytest.approx(0.5)
    assert (found.low_text, found.high_text) == ("171", "179")


_limits = st.none() | st.floats(-30, 60)


@given(_limits, _limits, st.floats(-80, 120), st.sampled_from(list(BandState)))
def test_place_and_shape_of_the_marker_never_disagree(
    one: float | None, other: float | None, value: float, state: BandState
) -> None:
    low, high = one, other
    if low is not None and high is not None:
        low, high = min(low, high), max(low, high)
    if (state is BandState.BELOW and low is None) or (state is BandState.ABOVE and high is None):
        return
    found = gauge(focus(low=low, high=high, state=state), value)
    if low is None and high is None:
        assert found is None
        return
    assert found is not None
    assert found.marker is not None
    assert 0.0 <= found.low <= found.high <= 1.0
    assert 0.0 <= found.marker <= 1.0
    if state is BandState.BELOW:
        assert found.marker < found.low
    elif state is BandState.ABOVE:
        assert found.marker > found.high
    elif state is BandState.INSIDE:
        assert found.low <= found.marker <= found.high


# a drill's blocks


@pytest.mark.parametrize(
    ("changes", "left"),
    [
        ({"block": block("uncued")}, "1:35 remaining"),
        ({"block": block("rest", remaining_s=None, remaining_steps=12)}, "12 steps remaining"),
        ({"block": block("cued"), "focus": STRIKE}, "1:35 remaining"),
        ({}, "8:55 remaining"),
    ],
)
@pytest.mark.parametrize(
    "over",
    [
        {"state": SessionState.PAUSED},
        {"problems": (describe("no_runner"),)},
        {"warning": "warn_belt_edge"},
    ],
)
def test_a_page_of_words_in_the_numbers_place_leaves_the_time_left_in_the_corner(
    changes: dict[str, Any], left: str, over: dict[str, Any]
) -> None:
    assert shown(snapshot(**({"focus": None} | changes | over))).clock == left


@pytest.mark.parametrize(
    ("changes", "clock", "number", "line"),
    [
        ({"focus": STRIKE, "block": block("cued")}, "1:35 remaining", "9.8", "On target"),
        (
            {"focus": STRIKE, "block": block("cued", remaining_s=None, remaining_steps=37)},
            "37 steps remaining",
            "9.8",
            "On target",
        ),
        ({"block": block("uncued")}, "", "1:35", "Run on your own"),
        ({"block": block("warm_up")}, "", "1:35", "Warm up"),
        ({"block": block("cool_down")}, "", "1:35", "Cool down"),
        ({"block": block("rest", belt_changes=True)}, "", "1:35", "Belt to 10.5 km/h"),
        ({"block": block("uncued"), "asked": Question.PAIN}, "", "1:35", "Pain? Press 0 to 10"),
        (
            {"block": block("baseline", remaining_s=None, remaining_steps=37)},
            "",
            "37",
            "Run normally",
        ),
    ],
)
def test_a_block_shows_what_is_left_and_no_value_while_nothing_is_cued(
    changes: dict[str, Any], clock: str, number: str, line: str
) -> None:
    found = shown(snapshot(**({"focus": None} | changes)))
    assert (found.clock, found.number, found.line) == (clock, number, line)
    assert (found.gauge is None) == ("focus" not in changes)


CUED = cue_key("strike_ahead", BandState.ABOVE)


@pytest.mark.parametrize(
    ("changes", "line"),
    [
        ({"warning": "warn_pain"}, "Pain noted: ease off"),
        ({"block": block("cued", belt_changes=True)}, "Belt to 10.5 km/h"),
        ({"block": block("rest", belt_changes=True), "focus": None}, "Belt to 10.5 km/h"),
        ({"warning": "warn_pain", "focus": None}, "Pain noted: ease off"),
        ({"focus": focus(state=BandState.ABOVE, words=CUED)}, words(CUED)),
        ({}, "On target"),
    ],
)
def test_a_question_hides_no_word_that_tells_what_to_do(changes: dict[str, Any], line: str) -> None:
    changes = {"focus": STRIKE} | changes
    without = shown(snapshot(**changes))
    found = shown(snapshot(**changes, asked=Question.EFFORT))
    assert found.line == without.line == line
    assert (found.title, found.asks) == ("Effort? Press 0 to 10", True)
    assert (found.number, found.gauge, found.clock) == (
        without.number,
        without.gauge,
        without.clock,
    )
    assert found.rates is Question.EFFORT


def test_before_the_run_no_time_is_promised_that_nobody_knows() -> None:
    for state in (SessionState.CAUTIONS, SessionState.READY):
        assert shown(snapshot(state=state, remaining_s=None, elapsed_s=0.0)).clock == ""
    ready = shown(snapshot(state=SessionState.READY, remaining_s=60.0, elapsed_s=0.0))
    assert ready.clock == "1:00 remaining"
