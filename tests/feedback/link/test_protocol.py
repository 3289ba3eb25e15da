"""The rules of the link hold for any bytes, in any order, at any time."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.link.client_state import LinkState, ScreenSide
from feedback.link.protocol import (
    HELLO_WITHIN_NS,
    LARGEST_FROM_SCREEN_BYTES,
    LATE_TICK_NS,
    MOST_PER_SECOND,
    SILENCE_NS,
    Close,
    Joined,
    Send,
    StationSide,
    StopAsked,
    Tokens,
    encode,
)
from shared.messages import PROTOCOL, FromStation, Goodbye, Hello, Ping, Refused, Stop, Welcome
from tests.feedback.link.examples import snapshot

MS = 1_000_000
RIGHT = "right"


def hello(key: str = RIGHT, protocol: int = PROTOCOL, role: str = "runner") -> bytes:
    return encode(Hello(protocol=protocol, token=key, role=role))


def station() -> StationSide:
    tokens = Tokens()
    tokens.add(RIGHT, "runner")
    return StationSide(tokens, "beltside", 0)


def joined() -> StationSide:
    side = station()
    side.on_bytes(hello(), 0)
    assert side.joined
    return side


def told(answers: tuple[object, ...]) -> object:
    """The one message sent among the answers."""
    (data,) = [answer.data for answer in answers if isinstance(answer, Send)]
    return msgspec.msgpack.decode(data, type=FromStation)


def test_a_screen_with_a_token_is_welcomed() -> None:
    side = station()
    answers = side.on_bytes(hello(), 5)
    assert told(answers) == Welcome(protocol=PROTOCOL, station="beltside")
    assert Joined("runner") in answers
    assert side.role == "runner"


def test_a_token_lets_one_screen_in_only() -> None:
    tokens = Tokens()
    tokens.add(RIGHT, "runner")
    first, second = StationSide(tokens, "s", 0), StationSide(tokens, "s", 0)
    first.on_bytes(hello(), 0)
    answers = second.on_bytes(hello(), 0)
    assert first.joined
    assert not second.joined
    assert isinstance(told(answers), Refused)
    assert any(isinstance(answer, Close) for answer in answers)


@pytest.mark.parametrize(
    ("data", "part"),
    [
        (hello(key="wrong"), "key"),
        (hello(key=""), "key"),
        (hello(role="clerk"), "kind of screen"),
        (hello(protocol=PROTOCOL + 1), f"version {PROTOCOL + 1}"),
        (msgspec.msgpack.encode({"type": "hello", "protocol": 9, "pass": [1]}), "version 9"),
        (msgspec.msgpack.encode({"type": "hello", "protocol": PROTOCOL}), "identify itself"),
        (encode(Stop(asked_ns=1)), "identify itself"),
        (b"\xc1", "identify itself"),
    ],
)
def test_a_refusal_says_why(data: bytes, part: str) -> None:
    side = station()
    answers = side.on_bytes(data, 0)
    message = told(answers)
    assert isinstance(message, Refused)
    assert part in message.why
    assert any(isinstance(answer, Close) for answer in answers)
    assert not side.joined
    assert side.on_bytes(hello(), 0) == ()


def test_a_refused_version_does_not_use_the_token_up() -> None:
    tokens = Tokens()
    tokens.add(RIGHT, "runner")
    StationSide(tokens, "s", 0).on_bytes(hello(protocol=PROTOCOL + 1), 0)
    side = StationSide(tokens, "s", 0)
    side.on_bytes(hello(), 0)
    assert side.joined


def test_tokens_are_for_known_roles() -> None:
    with pytest.raises(ValueError, match="clerk"):
        Tokens().add("x", "clerk")


@given(st.lists(st.binary(max_size=200) | st.text(max_size=20), max_size=8))
def test_no_bytes_let_anybody_in_or_raise(chunks: list[bytes | str]) -> None:
    side = station()
    for chunk in chunks:
        answers = side.on_bytes(chunk, 0)
        assert not any(isinstance(answer, StopAsked | Joined) for answer in answers)
    assert not side.joined


@given(st.binary(max_size=300))
def test_junk_after_joining_ends_the_connection_or_is_a_message(data: bytes) -> None:
    side = joined()
    answers = side.on_bytes(data, 1)
    ended = any(isinstance(answer, Close) for answer in answers)
    assert ended != side.joined


@given(st.integers(0, 40), st.integers(0, 255), st.booleans())
def test_one_changed_byte_never_raises(at: int, value: int, first: bool) -> None:
    data = hello() if first else encode(Stop(asked_ns=7))
    changed = bytearray(data)
    changed[at % len(data)] = value
    station().on_bytes(bytes(changed), 0)
    joined().on_bytes(bytes(changed), 0)


_steps = st.lists(
    st.sampled_from(["right", "wrong", "stop", "ping", "junk", "tick", "long"]), max_size=30
)


@given(st.lists(_steps, min_size=1, max_size=3), st.integers(0, 400))
def test_any_order_of_messages_keeps_the_rules(scripts: list[list[str]], gap_ms: int) -> None:
    tokens = Tokens()
    tokens.add(RIGHT, "runner")
    data = {
        "right": hello(),
        "wrong": hello(key="no"),
        "stop": encode(Stop(asked_ns=3)),
        "ping": encode(Ping(at_ns=3)),
        "junk": b"\x00",
        "long": b"x" * (LARGEST_FROM_SCREEN_BYTES + 1),
    }
    let_in = 0
    for script in scripts:
        side, closed, at_ns = StationSide(tokens, "s", 0), False, 0
        for step in script:
            at_ns += gap_ms * MS
            before = side.joined
            answers = side.on_tick(at_ns) if step == "tick" else side.on_bytes(data[step], at_ns)
            if closed:
                assert answers == ()
            asked = any(isinstance(answer, StopAsked) for answer in answers)
            assert asked == (before and step == "stop")
            let_in += any(isinstance(answer, Joined) for answer in answers)
            closed = closed or any(isinstance(answer, Close) for answer in answers)
            assert not (closed and side.joined)
    assert let_in <= 1


def test_silence_is_noticed_and_signs_of_life_count() -> None:
    side = joined()
    at_ns = 0
    while at_ns < 5_000 * MS:
        at_ns += 100 * MS
        if at_ns % (500 * MS) == 0:
            assert side.on_bytes(encode(Ping(at_ns=at_ns)), at_ns) == ()
        assert side.on_tick(at_ns) == ()
    heard_ns = at_ns
    while not (answers := side.on_tick(at_ns)):
        at_ns += 50 * MS
    assert isinstance(answers[0], Close)
    assert SILENCE_NS < at_ns - heard_ns <= 1_500 * MS


def test_a_screen_is_not_blamed_when_the_station_was_held_up() -> None:
    side = joined()
    side.on_tick(100 * MS)
    held_up_ns = 100 * MS + LATE_TICK_NS + 2_000 * MS
    assert side.on_tick(held_up_ns) == ()
    assert side.joined
    at_ns = held_up_ns
    while not side.on_tick(at_ns):
        at_ns += 50 * MS
    assert at_ns - held_up_ns <= SILENCE_NS + 50 * MS


def test_who_never_says_hello_is_sent_away() -> None:
    side = station()
    at_ns = 0
    while not (answers := side.on_tick(at_ns)):
        at_ns += 100 * MS
    assert HELLO_WITHIN_NS < at_ns <= HELLO_WITHIN_NS + 100 * MS
    assert isinstance(answers[0], Close)


def test_a_flood_is_cut_off_yet_its_stop_is_heard() -> None:
    side = joined()
    for _ in range(MOST_PER_SECOND):
        assert side.on_bytes(encode(Ping(at_ns=0)), 10) == ()
    answers = side.on_bytes(encode(Stop(asked_ns=9)), 11)
    assert answers[0] == StopAsked(Stop(asked_ns=9))
    assert isinstance(answers[1], Close)


def test_a_steady_screen_is_never_cut_off() -> None:
    side = joined()
    for number in range(1_000):
        assert side.on_bytes(encode(Ping(at_ns=0)), number * 25 * MS) == ()
    assert side.joined


def test_a_screen_shows_only_what_follows_a_welcome() -> None:
    side = ScreenSide(RIGHT, "runner")
    side.on_bytes(encode(snapshot()))
    assert side.state is LinkState.LOST
    assert side.newest is None


def test_an_older_snapshot_never_replaces_a_newer_one() -> None:
    side = ScreenSide(RIGHT, "runner")
    side.on_bytes(encode(Welcome(protocol=PROTOCOL, station="s")))
    for number in (3, 2, 5, 4):
        side.on_bytes(encode(snapshot(number)))
    assert side.newest == snapshot(5)
    again = snapshot(5, saved=True)  # the same one, with what became known since
    side.on_bytes(encode(again))
    assert side.newest == again


def test_a_screen_refuses_a_station_of_another_version() -> None:
    side = ScreenSide(RIGHT, "runner")
    side.on_bytes(encode(Welcome(protocol=PROTOCOL + 1, station="s")))
    assert side.state is LinkState.REFUSED
    assert str(PROTOCOL + 1) in side.why


def test_what_the_station_said_last_outlives_the_broken_link() -> None:
    side = ScreenSide(RIGHT, "runner")
    side.on_bytes(encode(Welcome(protocol=PROTOCOL, station="s")))
    side.on_bytes(encode(Goodbye(why="done")))
    side.on_lost("connection closed")
    assert (side.state, side.why) == (LinkState.ENDED, "done")


@given(st.lists(st.binary(max_size=200) | st.text(max_size=20), max_size=6))
def test_no_bytes_upset_a_screen(chunks: list[bytes | str]) -> None:
    side = ScreenSide(RIGHT, "runner")
    side.on_bytes(encode(Welcome(protocol=PROTOCOL, station="s")))
    for chunk in chunks:
        side.on_bytes(chunk)
    assert side.newest is None
