"""Nobody comes in from the network without the key, and nobody is told anything before."""

from __future__ import annotations

import os
from collections.abc import Callable

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.link.admission import (
    LARGEST_AT_THE_DOOR_BYTES,
    WITHIN_NS,
    Approach,
    Challenge,
    DoorAnswer,
    KeepConsole,
    Proof,
    RemoteSide,
    ToDoor,
    decode_from_door,
    encode_at_door,
    sign,
)
from feedback.link.pairing import (
    ConsoleExchange,
    PairConfirm,
    PairDone,
    PairingDesk,
    PairShare,
    public_key_of,
)
from feedback.link.protocol import (
    REMOTE_SILENCE_NS,
    SILENCE_NS,
    Close,
    Joined,
    Send,
    StationSide,
    StopAsked,
    Tokens,
    encode,
)
from feedback.texts.network import phrase
from shared.messages import PROTOCOL, Hello, Ping, Refused, Role, Stop

FINGERPRINT, OTHER = "ab" * 32, "cd" * 32
SEED, STRANGER = bytes(range(32)), bytes(range(1, 33))
NAME = "front desk"
NONCE = bytes(range(100, 132))


def side(
    desk: PairingDesk | None = None, *, nonce: bytes = NONCE, session: bool = True
) -> RemoteSide:
    tokens = Tokens()
    tokens.add("a screen's", Role.RUNNER)
    inside: Callable[[str, int], StationSide] = lambda name, at_ns: StationSide(  # noqa: E731
        tokens, "room 1", at_ns, console=name
    )
    return RemoteSide(
        desk or PairingDesk(FINGERPRINT, "room 1", os.urandom),
        lambda name: public_key_of(SEED) if name == NAME else None,
        FINGERPRINT,
        nonce,
        inside if session else None,
        now_ns=0,
    )


def say(to: RemoteSide, message: ToDoor, now_ns: int = 1) -> tuple[DoorAnswer, ...]:
    return to.on_bytes(encode_at_door(message), now_ns)


def told(answers: tuple[DoorAnswer, ...]) -> object:
    (data,) = [answer.data for answer in answers if isinstance(answer, Send)]
    return decode_from_door(data)


def refused(answers: tuple[DoorAnswer, ...]) -> str:
    message = told(answers)
    assert isinstance(message, Refused)
    assert any(isinstance(answer, Close) for answer in answers)
    return message.why


def approach(name: str = NAME, protocol: int = PROTOCOL) -> Approach:
    return Approach(protocol=protocol, name=name)


def proof(
    seed: bytes = SEED, nonce: bytes = NONCE, fingerprint: str = FINGERPRINT, name: str = NAME
) -> Proof:
    return sign(seed, Challenge(nonce=nonce), fingerprint, name)


def hello(role: str = Role.CONSOLE, token: str = "") -> bytes:
    return encode(Hello(protocol=PROTOCOL, token=token, role=role))


def admitted() -> RemoteSide:
    station = side()
    say(station, approach())
    assert say(station, proof()) == ()
    return station


def test_a_paired_console_proves_its_key_and_joins_under_its_name() -> None:
    station = side()
    assert told(say(station, approach())) == Challenge(nonce=NONCE)
    assert say(station, proof()) == ()
    assert not station.joined
    assert any(isinstance(answer, Joined) for answer in station.on_bytes(hello(), 3))
    assert (station.joined, station.role, station.name) == (True, "console", NAME)
    assert station.public_key == public_key_of(SEED)


@pytest.mark.parametrize(
    "wrong",
    [
        proof(seed=STRANGER),
        proof(nonce=bytes(32)),
        proof(fingerprint=OTHER),
        proof(name="office"),
        Proof(signature=bytes(64)),
    ],
    ids=["another key", "an old challenge", "for another station", "another name", "nothing"],
)
def test_a_wrong_proof_is_refused(wrong: Proof) -> None:
    station = side()
    say(station, approach())
    assert refused(say(station, wrong)) == phrase("unpaired")
    assert station.on_bytes(hello(), 3) == ()
    assert (station.role, station.name, station.joined) == ("", "", False)


def test_names_cannot_be_found_out() -> None:
    known, unknown = side(), side()
    assert say(known, approach()) == say(unknown, approach("nobody"))
    wrong = proof(seed=STRANGER)
    assert say(known, wrong) == say(unknown, wrong)


def test_a_proof_that_was_listened_to_is_worth_nothing_on_another_connection() -> None:
    recorded = proof()
    later = side(nonce=bytes(reversed(NONCE)))
    say(later, approach())
    assert refused(say(later, recorded)) == phrase("unpaired")


@pytest.mark.parametrize(
    "first",
    [
        hello(),
        hello(Role.RUNNER, "a screen's"),
        encode(Stop(asked_ns=1)),
        encode(Ping(at_ns=1)),
        encode_at_door(proof()),
        encode_at_door(PairConfirm(mac=bytes(32))),
        b"",
        b"\xc1",
        b"\x80",
        b"[" * 400,
        bytes(LARGEST_AT_THE_DOOR_BYTES + 1),
    ],
)
def test_nothing_else_opens_the_door(first: bytes) -> None:
    station = side()
    answers = station.on_bytes(first, 1)
    assert any(isinstance(answer, Close) for answer in answers)
    assert not any(isinstance(answer, StopAsked | Joined) for answer in answers)
    assert say(station, approach()) == ()


def test_text_is_not_a_message() -> None:
    assert any(isinstance(answer, Close) for answer in side().on_bytes("hello", 1))


def test_a_stop_before_the_proof_does_not_stop() -> None:
    station = side()
    say(station, approach())
    answers = station.on_bytes(encode(Stop(asked_ns=1)), 2)
    assert not any(isinstance(answer, StopAsked) for answer in answers)
    assert refused(answers) == phrase("order")


def test_an_admitted_console_may_be_nothing_but_a_console() -> None:
    for role in (Role.RUNNER, Role.PANEL, Role.SETUP):
        station = admitted()
        station.on_bytes(hello(role, "a screen's"), 3)
        assert not station.joined


def test_a_console_cannot_join_at_the_door_for_screens() -> None:
    tokens = Tokens()
    local = StationSide(tokens, "room 1", 0)
    local.on_bytes(hello(), 1)
    assert not local.joined


def test_another_version_is_told_so_whatever_its_other_fields() -> None:
    assert "version 9" in refused(say(side(), approach(protocol=9)))
    other = msgspec.msgpack.encode({"type": "approach", "protocol": 9, "key": "x"})
    assert "version 9" in refused(side().on_bytes(other, 1))


def test_who_dawdles_at_the_door_is_sent_away() -> None:
    station = side()
    assert station.on_tick(WITHIN_NS) == ()
    say(station, approach(), WITHIN_NS)
    assert any(isinstance(answer, Close) for answer in station.on_tick(WITHIN_NS + 1))


def test_a_console_inside_may_be_silent_a_little_longer_than_a_screen() -> None:
    station = admitted()
    station.on_bytes(hello(), 2)
    assert REMOTE_SILENCE_NS > SILENCE_NS
    step = REMOTE_SILENCE_NS // 10
    for at_ns in range(2, REMOTE_SILENCE_NS, step):
        assert station.on_tick(at_ns) == ()
    assert station.on_tick(REMOTE_SILENCE_NS + 3) != ()


def test_where_no_session_is_on_consoles_are_paired_only() -> None:
    station = side(session=False)
    assert refused(say(station, approach())) == phrase("no_session")


def test_a_pairing_goes_through_the_door_and_ends_there() -> None:
    desk = PairingDesk(FINGERPRINT, "room 1", os.urandom)
    station = side(desk)
    console = ConsoleExchange(desk.open(0), "office", FINGERPRINT, PROTOCOL, os.urandom)
    share = told(say(station, console.start()))
    assert isinstance(share, PairShare)
    confirm = console.on_share(share)
    assert confirm is not None
    keep, close = say(station, confirm)
    assert isinstance(keep, KeepConsole)
    assert isinstance(close, Close)
    done = decode_from_door(keep.done("office 2"))
    assert isinstance(done, PairDone)
    kept = console.on_done(done)
    assert kept is not None
    assert kept.name == "office 2"
    assert public_key_of(kept.seed) == keep.paired.public_key
    assert say(station, approach()) == ()
    assert not station.joined


def test_a_wrong_code_is_refused_and_keeps_nothing() -> None:
    desk = PairingDesk(FINGERPRINT, "room 1", os.urandom)
    station = side(desk)
    code = f"{(int(desk.open(0)) + 1) % 1_000_000:06d}"
    console = ConsoleExchange(code, "office", FINGERPRINT, PROTOCOL, os.urandom)
    share = told(say(station, console.start()))
    assert isinstance(share, PairShare)
    confirm = console.on_share(share)
    assert confirm is not None
    answers = say(station, confirm)
    assert refused(answers) == phrase("code")
    assert not any(isinstance(answer, KeepConsole) for answer in answers)


def test_pairing_that_nobody_opened_is_refused() -> None:
    console = ConsoleExchange("000000", "office", FINGERPRINT, PROTOCOL, os.urandom)
    assert refused(say(side(), console.start())) == phrase("pairing")


MESSAGES = st.one_of(
    st.binary(max_size=600),
    st.sampled_from(
        [
            encode_at_door(approach()),
            encode_at_door(approach("nobody")),
            encode_at_door(proof(seed=STRANGER)),
            encode_at_door(proof(nonce=bytes(32))),
            encode_at_door(PairConfirm(mac=bytes(32))),
            hello(),
            hello(Role.RUNNER, "a screen's"),
            encode(Stop(asked_ns=1)),
            encode(Ping(at_ns=1)),
        ]
    ),
)


@settings(max_examples=300, deadline=None)
@given(messages=st.lists(MESSAGES, max_size=8))
def test_without_the_key_no_order_of_messages_comes_in(messages: list[bytes]) -> None:
    station = side()
    for number, data in enumerate(messages):
        for answer in station.on_bytes(data, number):
            assert isinstance(answer, Send | Close)
            if isinstance(answer, Send):
                assert isinstance(decode_from_door(answer.data), Challenge | Refused)
    assert not station.joined
    assert station.role == station.name == ""
