"""Every state with every event from everybody: Stop always stops, and nothing starts by itself."""

from __future__ import annotations

import itertools

import pytest
from msgspec.structs import replace

from feedback.journal.entries import StateEntry
from feedback.safety.rules import By, Event, follow
from feedback.session.interface import (
    Ask,
    Command,
    Confirm,
    Facts,
    GoOn,
    Outputs,
    Pause,
    Rated,
    Start,
    StopAsked,
)
from feedback.session.session import Session
from shared.flow import Body, View
from shared.messages import SessionState, StopReason
from shared.targets import Question
from tests.feedback.making import MS, S, athlete, cadence_target, update

STATES = SessionState
MOVES = {
    (STATES.CAUTIONS, Event.CONFIRM): STATES.READY,
    (STATES.READY, Event.BEGIN): STATES.RUNNING,
    (STATES.RUNNING, Event.PAUSE): STATES.PAUSED,
    (STATES.PAUSED, Event.GO_ON): STATES.RUNNING,
}
"""All moves but Stop, as they are meant; everything else must change nothing."""
BODY = Body(
    captured_ns=0,
    present=True,
    hand_up=False,
    hips_up=0.9,
    place=0.5,
    camera_moved=False,
    camera_elsewhere=False,
)


@pytest.mark.parametrize(("state", "event", "by"), list(itertools.product(STATES, Event, By)))
def test_every_state_with_every_event_from_everybody(
    state: SessionState, event: Event, by: By
) -> None:
    after = follow(state, event, by)
    if event is Event.STOP or state is STATES.STOPPED:
        assert after is STATES.STOPPED
    elif by is By.CONSOLE and event is not Event.PAUSE:
        assert after is state, "a console sets nothing going"
    else:
        assert after is MOVES.get((state, event), state)


@pytest.mark.parametrize("by", By)
def test_no_way_leads_out_of_a_stop(by: By) -> None:
    state = follow(STATES.RUNNING, Event.STOP, by)
    for events in itertools.product(Event, repeat=3):
        for event in events:
            state = follow(state, event, By.STATION)
        assert state is STATES.STOPPED


def session_in(state: SessionState) -> Session:
    """A session that was led into this state, at 1 s."""
    session = Session(athlete(cadence_target()), View.SIDE, cautions=True)
    there: list[Command] = [
        Confirm(),
        Start(),
        Pause(by=By.SCREEN, source="test"),
        StopAsked(reason=StopReason.QUIT, source="test"),
    ]
    order = [STATES.CAUTIONS, STATES.READY, STATES.RUNNING, STATES.PAUSED, STATES.STOPPED]
    for command in there[: order.index(state)]:
        session.on_command(command, S)
    assert session.state is state
    return session


def raise_hand(session: Session) -> Outputs:
    """One hand over the head for a little more than a second, at 30 frames a second."""
    outputs = Outputs()
    for frame in range(33):
        at_ns = 2 * S + frame * 33 * MS
        outputs = session.on_body(replace(BODY, captured_ns=at_ns, hand_up=True), at_ns)
        if outputs.stop is not None:
            return outputs
    return outputs


STOPS: dict[str, Command] = {
    "key or button": StopAsked(reason=StopReason.RUNNER, source="the runner's screen", asked_ns=7),
    "console": StopAsked(reason=StopReason.CONSOLE, source="a console"),
    "signal": StopAsked(reason=StopReason.QUIT, source="the program was asked to end"),
    "pain": Rated(what=Question.PAIN, value=6, source="the runner's screen"),
}
ALIVE = [state for state in STATES if state is not STATES.STOPPED]


@pytest.mark.parametrize(("state", "way"), list(itertools.product(ALIVE, [*STOPS, "hand"])))
def test_stop_works_from_every_state_by_every_way(state: SessionState, way: str) -> None:
    session = session_in(state)
    outputs = raise_hand(session) if way == "hand" else session.on_command(STOPS[way], 3 * S)
    reasons = {"key or button": "runner", "signal": "quit"}
    assert outputs.stop == reasons.get(way, way)
    assert outputs.cues == ()
    assert outputs.beat_spm is None
    assert session.state is STATES.STOPPED
    entry = outputs.journal[-1]
    assert isinstance(entry, StateEntry)
    assert entry.reason == outputs.stop


def commands() -> list[Command]:
    return [
        Confirm(),
        Start(),
        Pause(by=By.STATION, source="test"),
        GoOn(by=By.STATION, source="test"),
        Ask(what=Question.PAIN),
        Rated(what=Question.PAIN, value=9, source="test"),
        *STOPS.values(),
    ]


@pytest.mark.parametrize("command", commands())
def test_a_stopped_session_takes_no_command(command: Command) -> None:
    session = session_in(STATES.STOPPED)
    assert session.on_command(command, 5 * S) == Outputs()
    assert raise_hand(session) == Outputs()
    assert session.on_update(update(6 * S), 6 * S) == Outputs()
    assert session.on_tick(7 * S, Facts(screen_gone="runner")) == Outputs()
    assert session.stop_reason is StopReason.QUIT


def test_cautions_come_before_all_else() -> None:
    session = session_in(STATES.CAUTIONS)
    session.on_command(Start(), S)
    assert session.state is STATES.CAUTIONS
    session.on_command(Confirm(by=By.CONSOLE, source="a console"), S)
    assert session.state is STATES.CAUTIONS, "whoever confirms must see the belt"
    outputs = session.on_command(Confirm(by=By.SCREEN, source="the runner's screen"), S)
    entry = outputs.journal[-1]
    assert isinstance(entry, StateEntry)
    assert (entry.state, entry.source) == (STATES.READY, "the runner's screen")


def test_a_pause_silences_and_does_not_count_as_time() -> None:
    session = Session(athlete(cadence_target()), View.SIDE, time_limit_s=10.0)
    session.on_command(Start(), 0)
    for frame in range(60):
        outputs = session.on_update(update(frame * 33 * MS), frame * 33 * MS)
    assert outputs.beat_spm == 168.0
    outputs = session.on_command(Pause(by=By.SCREEN, source="test"), 2 * S)
    assert outputs.beat_spm is None
    assert session.on_tick(60 * S, Facts()).stop is None
    assert session.snapshot(60 * S).elapsed_s == 2.0
    session.on_command(GoOn(by=By.CONSOLE, source="test"), 60 * S)
    assert session.state is STATES.PAUSED
    session.on_command(GoOn(by=By.SCREEN, source="test"), 60 * S)
    assert session.on_tick(67 * S, Facts()).stop is None
    assert session.on_tick(68 * S, Facts()).stop is StopReason.TIME
