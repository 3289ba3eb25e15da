"""Every role with every message: a console may stop and nothing else; nobody else gets in."""

from __future__ import annotations

import itertools

import pytest

from feedback.link.conversation import Asked, Close, StationSide, StopAsked, Tokens, encode
from feedback.requests import command_for, is_too_painful
from feedback.safety import By
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
    Stop,
)
from shared.targets import Limits, Question

REQUESTS: list[Request] = [Confirm(), Pause(), GoOn(), Rating(what=Question.PAIN, value=4)]
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
def test_only_the_screen_at_the_station_may_ask_for_more(role: Role, request_: Request) -> None:
    side = joined(role)
    answers = side.on_bytes(encode(request_), S)
    if role is Role.RUNNER:
        assert answers == (Asked(request_),)
        assert side.joined
    else:
        assert [type(answer) for answer in answers] == [Close]
        assert not side.joined


@pytest.mark.parametrize("message", [*REQUESTS, Stop(asked_ns=7), Ping(at_ns=7)])
def test_nobody_is_heard_before_the_hello(message: FromScreen) -> None:
    side = StationSide(Tokens(), "test", 0)
    answers = side.on_bytes(encode(message), 1)
    assert not any(isinstance(answer, StopAsked | Asked) for answer in answers)


@pytest.mark.parametrize("role", Role)
def test_a_role_that_does_not_exist_is_let_in_by_no_token(role: Role) -> None:
    with pytest.raises(ValueError, match="unknown role"):
        Tokens().add("token", f"{role}s")


@pytest.mark.parametrize("request_", REQUESTS[:3])
def test_commands_carry_who_asks(request_: Request) -> None:
    for role, by in ((Role.RUNNER, By.SCREEN), (Role.CONSOLE, By.CONSOLE)):
        assert getattr(command_for(request_, role), "by") is by  # noqa: B009 - not all have it


@pytest.mark.parametrize("value", range(11))
def test_pain_over_the_limit_is_known_without_the_session(value: int) -> None:
    limits = Limits(pain_stop_over=4)
    assert is_too_painful(Rating(what=Question.PAIN, value=value), limits) == (value > 4)
    assert not is_too_painful(Rating(what=Question.EFFORT, value=value), limits)
