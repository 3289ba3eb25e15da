"""Six digits pair one console, once, in time, with this station alone."""

from __future__ import annotations

import os

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.link.pairing import (
    CODE_DIGITS,
    CODE_HOLDS_NS,
    MOST_TRIES,
    SHARE_BYTES,
    ConsoleExchange,
    KeptPairing,
    Name,
    PairConfirm,
    PairDone,
    Paired,
    PairingDesk,
    PairShare,
    PairStart,
    StationExchange,
    public_key_of,
)
from shared.messages import PROTOCOL

MINE, OTHER = "ab" * 32, "cd" * 32
NAME = "front desk"


def desk(fingerprint: str = MINE) -> PairingDesk:
    return PairingDesk(fingerprint, "treadmill room", os.urandom)


def console(code: str, fingerprint: str = MINE, name: str = NAME) -> ConsoleExchange:
    return ConsoleExchange(code, name, fingerprint, PROTOCOL, os.urandom)


def begun(at: PairingDesk, side: ConsoleExchange, now_ns: int = 0) -> StationExchange:
    exchange = at.begin(side.start(), now_ns)
    assert exchange is not None
    return exchange


def confirmed(side: ConsoleExchange, exchange: StationExchange) -> PairConfirm:
    confirm = side.on_share(PairShare(share=exchange.share))
    assert confirm is not None
    return confirm


def try_code(at: PairingDesk, code: str, now_ns: int = 0) -> Paired | None:
    side = console(code)
    exchange = begun(at, side, now_ns)
    return at.finish(exchange, confirmed(side, exchange), now_ns)


def wrong(code: str) -> str:
    return f"{(int(code) + 1) % 10**CODE_DIGITS:06d}"


def test_the_code_gives_both_sides_halves_of_one_key_pair() -> None:
    at = desk()
    side = console(at.open(0))
    exchange = begun(at, side)
    paired = at.finish(exchange, confirmed(side, exchange), 1)
    assert paired is not None
    kept = side.on_done(at.done(exchange, "front desk 2"))
    assert kept == KeptPairing("front desk 2", "treadmill room", kept.seed if kept else b"")
    assert public_key_of(kept.seed) == paired.public_key
    assert kept.seed != paired.public_key


def test_a_code_has_six_digits_and_changes() -> None:
    at = desk()
    codes = {at.open(0) for _ in range(200)}
    assert all(len(code) == CODE_DIGITS and code.isdecimal() for code in codes)
    assert len(codes) > 190


def test_nothing_is_paired_before_a_person_opens_it() -> None:
    at = desk()
    assert at.standing(0).code == ""
    assert at.begin(console("000000").start(), 0) is None


def test_a_code_pairs_once() -> None:
    at = desk()
    code = at.open(0)
    assert try_code(at, code) is not None
    assert at.begin(console(code).start(), 1) is None


def test_the_code_runs_out() -> None:
    at = desk()
    code = at.open(10)
    side = console(code)
    exchange = begun(at, side, 10 + CODE_HOLDS_NS - 1)
    confirm = confirmed(side, exchange)
    assert at.finish(exchange, confirm, 10 + CODE_HOLDS_NS) is None
    assert at.begin(console(code).start(), 10 + CODE_HOLDS_NS) is None
    assert at.standing(10 + CODE_HOLDS_NS).code == ""


def test_five_wrong_tries_lock_it_until_a_person_opens_it_again() -> None:
    at = desk()
    code = at.open(0)
    for number in range(MOST_TRIES):
        assert at.standing(0).tries_left == MOST_TRIES - number
        assert try_code(at, wrong(code)) is None
    assert at.standing(0).locked
    assert at.standing(0).code == ""
    assert at.begin(console(code).start(), 0) is None  # the right one comes too late
    again = at.open(1)
    assert not at.standing(1).locked
    assert try_code(at, again, 1) is not None


def test_four_wrong_tries_do_not_lock_it() -> None:
    at = desk()
    code = at.open(0)
    for _ in range(MOST_TRIES - 1):
        assert try_code(at, wrong(code)) is None
    assert try_code(at, code) is not None


def test_breaking_off_early_counts_as_a_try() -> None:
    at = desk()
    code = at.open(0)
    for _ in range(MOST_TRIES):
        begun(at, console(wrong(code)))
    assert at.begin(console(code).start(), 0) is None


def test_tries_at_the_same_time_count_each() -> None:
    at = desk()
    code = at.open(0)
    sides = [console(wrong(code)) for _ in range(MOST_TRIES)]
    exchanges = [begun(at, side) for side in sides]
    assert at.begin(console(code).start(), 0) is None
    for side, exchange in zip(sides, exchanges, strict=True):
        assert at.finish(exchange, confirmed(side, exchange), 0) is None


def test_whoever_stands_in_between_with_a_certificate_of_its_own_fails_even_with_the_code() -> None:
    at = desk(MINE)
    side = console(at.open(0), fingerprint=OTHER)  # the console was shown another certificate
    exchange = begun(at, side)
    confirm = confirmed(side, exchange)
    assert at.finish(exchange, confirm, 0) is None
    assert side.on_done(at.done(exchange, NAME)) is None


def test_a_recorded_pairing_cannot_be_played_again() -> None:
    at = desk()
    side = console(at.open(0))
    start = side.start()
    exchange = begun(at, side)
    confirm = confirmed(side, exchange)
    assert at.finish(exchange, confirm, 0) is not None
    at.open(1)  # even where the same digits came up again, the station's share is another one
    replayed = at.begin(start, 1)
    assert replayed is not None
    assert at.finish(replayed, confirm, 1) is None


def test_an_exchange_of_an_earlier_code_is_worth_nothing() -> None:
    at = desk()
    side = console(at.open(0))
    exchange = begun(at, side)
    confirm = confirmed(side, exchange)
    at.open(1)
    assert at.finish(exchange, confirm, 1) is None


def test_one_exchange_is_confirmed_at_most_once() -> None:
    at = desk()
    side = console(at.open(0))
    exchange = begun(at, side)
    confirm = confirmed(side, exchange)
    assert at.finish(exchange, PairConfirm(mac=bytes(32)), 0) is None
    assert at.finish(exchange, confirm, 0) is None


def test_the_name_is_part_of_what_is_confirmed() -> None:
    at = desk()
    code = at.open(0)
    side = console(code)
    other = msgspec.structs.replace(side.start(), name="somebody else")
    exchange = at.begin(other, 0)
    assert exchange is not None
    assert at.finish(exchange, confirmed(side, exchange), 0) is None


def test_the_console_does_not_take_a_station_that_does_not_know_the_code() -> None:
    at = desk()
    right = at.open(0)
    side = console(wrong(right))
    exchange = begun(at, side)
    confirmed(side, exchange)
    assert side.on_done(at.done(exchange, NAME)) is None


def test_the_consoles_own_share_cannot_be_sent_back_to_it() -> None:
    side = console("123456")
    mirrored = b"B" + side.start().share[1:]
    assert side.on_share(PairShare(share=mirrored)) is None
    assert side.on_share(PairShare(share=side.start().share)) is None


def test_the_end_before_the_share_is_nothing() -> None:
    done = PairDone(mac=bytes(32), name=NAME, station="x")
    assert console("123456").on_done(done) is None


@settings(max_examples=60, deadline=None)
@given(
    share=st.binary(min_size=SHARE_BYTES, max_size=SHARE_BYTES),
    mac=st.binary(min_size=32, max_size=32),
)
def test_any_share_and_any_proof_fail_quietly(share: bytes, mac: bytes) -> None:
    at = desk()
    at.open(0)
    for first in (share, b"A" + share[1:]):
        exchange = at.begin(PairStart(protocol=PROTOCOL, name=NAME, share=first), 0)
        if exchange is not None:
            assert at.finish(exchange, PairConfirm(mac=mac), 0) is None
    side = console("123456")
    if side.on_share(PairShare(share=b"B" + share[1:])) is not None:
        assert side.on_done(PairDone(mac=mac, name=NAME, station="x")) is None


@settings(max_examples=40, deadline=None)
@given(
    events=st.lists(
        st.sampled_from(["open", "right", "wrong", "break", "wait", "close"]), max_size=14
    )
)
def test_however_it_goes_at_most_five_wrong_codes_are_tried_for_each_opening(
    events: list[str],
) -> None:
    at, now_ns, code = desk(), 0, "000000"
    tried = 0
    for event in events:
        open_before = at.standing(now_ns).code
        match event:
            case "open":
                code, tried = at.open(now_ns), 0
            case "close":
                at.close()
            case "wait":
                now_ns += CODE_HOLDS_NS // 3
            case "break" | "wrong" | "right":
                side = console(code if event == "right" else wrong(code))
                exchange = at.begin(side.start(), now_ns)
                assert (exchange is not None) == bool(open_before)
                tried += exchange is not None
                if exchange is not None and event != "break":
                    paired = at.finish(exchange, confirmed(side, exchange), now_ns)
                    assert (paired is not None) == (event == "right")
        assert tried <= MOST_TRIES


@pytest.mark.parametrize("name", ["desk", "a", "Küche 2", "x" * 40])
def test_names_that_can_be_read(name: str) -> None:
    assert msgspec.convert(name, Name) == name


@pytest.mark.parametrize(
    "name", ["", " desk", "desk ", "a\n", "a\x1b[2J", "\u202edesk", "a\x00b", "x" * 41, "\ufeffa"]
)
def test_names_that_would_hide_something(name: str) -> None:
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(name, Name)
