"""Every role with every message: a console may stop and nothing else; nobody else gets in."""

from __future__ import annotations

import itertools
from typing import get_args

import pytest

from feedback.link.protocol import Asked, Asker, Close, StationSide, StopAsked, Tokens, encode
from feedback.safety.rules import By
from feedback.station.requests import command_for, is_too_painful
from shared.changes import Adjust, MoveBlock, Note, SetVolume, Undo
from shared.messages import (
    PROTOCOL,
    Confirm,
    FromScreen,
    GoOn,
    Hello,
    Pause,
    Ping,
    Rating,
    Request,
    Role,
    SessionRequest,
    Stop,
)
from shared.pictures import AskReplay, CheckDone, SaveReplay, SetEdges, WatchPictures
from shared.targets import Limits, Question

REQUESTS: list[Request] = [
    Confirm(),
    Pause(),
    GoOn(),
    Rating(what=Question.PAIN, value=4),
    Adjust(id=1, number=0, revision=1, aim=3.0),
    Undo(id=1, number=0, revision=1),
    MoveBlock(id=1, now=1, to=2),
    Note(id=1, text="heel strike on the left"),
    SetVolume(id=1, percent=40),
    WatchPictures(most_per_s=10),
    AskReplay(id=1, seconds=20),
    SaveReplay(id=1, replay=1),
    SetEdges(edges=None),
    CheckDone(accepted=True),
]
CLINICIAN = {"Pause", "Rating", "Adjust", "Undo", "MoveBlock", "Note", "SetVolume"} | {
    *("WatchPictures", "AskReplay", "SaveReplay"),
}
ALLOWED = {
    Role.RUNNER: {"Confirm", "Pause", "GoOn", "Rating"},
    Role.PANEL: {"Confirm", "GoOn", *CLINICIAN},
    Role.CONSOLE: CLINICIAN,
    Role.SETUP: {"WatchPictures", "SetEdges", "CheckDone"},
}
"""Written out here, so that a role that gets more says so in a test."""
S = 1_000_000_000


def joined(role: str) -> StationSide:
    tokens = Tokens()
    tokens.add("token", role)
    side = StationSide(tokens, "test", 0)
    side.on_bytes(encode(Hello(protocol=PROTOCOL, token="token", role=role)), 1)  # noqa: S106
    assert side.joined
    return side


@pytest.mark.parametrize("role", Role)
def test_everybody_who_has_joined_may_stop(role: Role) -> None:
    stop = Stop(asked_ns=7)
    assert joined(role).on_bytes(encode(stop), S) == (StopAsked(stop),)
    assert joined(role).on_bytes(encode(Ping(at_ns=7)), S) == ()


@pytest.mark.parametrize(("role", "request_"), list(itertools.product(Role, REQUESTS)))
def test_each_role_may_ask_for_what_is_its_own(role: Role, request_: Request) -> None:
    side = joined(role)
    answers = side.on_bytes(encode(request_), S)
    if type(request_).__name__ in ALLOWED[role]:
        assert answers == (Asked(request_),)
        assert side.joined
    else:
        assert [type(answer) for answer in answers] == [Close]
        assert not side.joined


def test_all_requests_are_tried() -> None:
    assert {type(request_) for request_ in REQUESTS} == set(get_args(Request))


def test_nobody_away_from_the_station_may_set_a_session_going() -> None:
    assert not {"Confirm", "GoOn", "SetEdges", "CheckDone"} & ALLOWED[Role.CONSOLE]


@pytest.mark.parametrize("message", [*REQUESTS, Stop(asked_ns=7), Ping(at_ns=7)])
def test_nobody_is_heard_before_the_hello(message: FromScreen) -> None:
    side = StationSide(Tokens(), "test", 0)
    answers = side.on_bytes(encode(message), 1)
    assert not any(isinstance(answer, StopAsked | Asked) for answer in answers)


@pytest.mark.parametrize("role", Role)
def test_a_role_that_does_not_exist_is_let_in_by_no_token(role: Role) -> None:
    with pytest.raises(ValueError, match="unknown role"):
        Tokens().add("token", f"{role}s")


@pytest.mark.parametrize("request_", [Confirm(), Pause(), GoOn()])
def test_commands_carry_who_asks(request_: SessionRequest) -> None:
    for role, by in ((Role.RUNNER, By.SCREEN), (Role.PANEL, By.SCREEN), (Role.CONSOLE, By.CONSOLE)):
        command = command_for(request_, Asker(role=role))
        assert getattr(command, "by") is by  # noqa: B009 - not all have it


@pytest.mark.parametrize("value", range(11))
def test_pain_over_the_limit_is_known_without_the_session(value: int) -> None:
    limits = Limits(pain_stop_over=4)
    assert is_too_painful(Rating(what=Question.PAIN, value=value), limits) == (value > 4)
    assert not is_too_painful(Rating(what=Question.EFFORT, value=value), limits)
