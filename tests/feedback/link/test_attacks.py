"""Whoever speaks to the station without a key changes nothing, learns nothing, breaks nothing."""

from __future__ import annotations

import contextlib
import gc
import os
import socket
import ssl
import threading
import time
import tracemalloc
from collections import Counter
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from websockets.exceptions import ConnectionClosed, InvalidHandshake
from websockets.sync.client import connect
from websockets.typing import Origin

from feedback.link.admission import (
    Approach,
    Challenge,
    KeepConsole,
    RemoteSide,
    decode_from_door,
    encode_at_door,
    sign,
)
from feedback.link.certificate import client_context
from feedback.link.pairing import ConsoleExchange, PairingDesk, PairShare, public_key_of
from feedback.link.protocol import (
    MAY_ASK,
    Asked,
    Close,
    Joined,
    Send,
    StationSide,
    StopAsked,
    Tokens,
    encode,
)
from feedback.link.quota import MOST_UNPROVED_FROM_ONE, Admission
from shared.messages import PROTOCOL, Hello, Ping, Refused, Role, Snapshot
from tests.feedback.link.examples import snapshot
from tests.feedback.link.hostile import FINGERPRINT, Hostile
from tests.feedback.link.netting import (
    HOST,
    PATIENCE_S,
    NetStation,
    Raw,
    briefing,
    joined,
    quiet_network,
    remote,
    sign_of_life,
    until,
)

__all__ = ["quiet_network"]
pytestmark = pytest.mark.usefixtures("quiet_network")

AT_THE_DOOR = 100_000
INSIDE = 30_000
OVER_TLS = 3_000
SEED = bytes(range(32))
SHARE = b"A" + bytes([1]) + bytes(31)
MOST_GROWTH_BYTES = 100_000


@pytest.fixture
def station(tmp_path: Path) -> Iterator[NetStation]:
    built = NetStation(tmp_path / "station")
    built.server.brief(briefing())
    built.server.publish(snapshot(1))
    yield built
    built.close()


@pytest.fixture
def near_station(tmp_path: Path) -> Iterator[NetStation]:
    """Its gateway is in this process: what it takes is seen in this process's memory."""
    built = NetStation(tmp_path / "station", near=True)
    built.server.brief(briefing())
    built.server.publish(snapshot(1))
    yield built
    built.close()


def door(desk: PairingDesk, tokens: Tokens) -> RemoteSide:
    def inside(name: str, at_ns: int) -> StationSide:
        return StationSide(tokens, "room 1", at_ns, console=name)

    def key_of(name: str) -> bytes | None:
        return public_key_of(SEED) if name == "front desk" else None

    return RemoteSide(desk, key_of, FINGERPRINT, os.urandom(32), inside, now_ns=0)


@pytest.mark.timeout(300)
def test_a_hundred_thousand_messages_at_the_door_do_nothing() -> None:
    """Malformed, oversized, out of order, without a key: only refusals and challenges come back.

    Only messages that a conversation still listened to are counted.
    """
    hostile = Hostile(1)
    tokens = Tokens()
    tokens.add("a screen's", Role.RUNNER)
    desk = PairingDesk(FINGERPRINT, "room 1", os.urandom)
    desk.open(0)
    answered: Counter[str] = Counter()
    before = 0
    heard = 0
    tracemalloc.start()
    while heard < AT_THE_DOOR:
        side = door(desk, tokens)
        for _ in range(6):
            answers = side.on_bytes(hostile.message(), 1)
            heard += 1
            answered.update(type(answer).__name__ for answer in answers)
            assert not any(
                isinstance(answer, StopAsked | Asked | Joined | KeepConsole) for answer in answers
            )
            for answer in answers:
                if isinstance(answer, Send):
                    told = decode_from_door(answer.data)
                    assert isinstance(told, Challenge | Refused | PairShare)
            if any(isinstance(answer, Close) for answer in answers):
                break
        assert side.role == side.name == ""
        side.on_closed()
        if not before and heard > AT_THE_DOOR // 5:
            gc.collect()
            before = tracemalloc.get_traced_memory()[0]
    gc.collect()
    growth = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert growth < MOST_GROWTH_BYTES
    assert answered["Close"] > AT_THE_DOOR / 6
    assert desk.standing(1).locked or desk.standing(1).tries_left < 5  # its codes were tried too
    assert tokens.spend("a screen's", Role.RUNNER)  # and the screen's token is still good


@pytest.mark.timeout(300)
def test_a_paired_console_that_has_gone_mad_does_only_what_a_console_may() -> None:
    hostile = Hostile(2)
    tokens = Tokens()
    desk = PairingDesk(FINGERPRINT, "room 1", os.urandom)
    heard = 0
    while heard < INSIDE:
        side = door(desk, tokens)
        (challenge,) = side.on_bytes(
            encode_at_door(Approach(protocol=PROTOCOL, name="front desk")), 1
        )
        assert isinstance(challenge, Send)
        nonce = decode_from_door(challenge.data)
        assert isinstance(nonce, Challenge)
        side.on_bytes(encode_at_door(sign(SEED, nonce, FINGERPRINT, "front desk")), 1)
        side.on_bytes(encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE)), 1)
        assert side.joined
        for _ in range(10):
            answers = side.on_bytes(hostile.message(), heard * 100_000_000)
            heard += 1
            for answer in answers:
                assert isinstance(answer, StopAsked | Asked | Close)
                if isinstance(answer, Asked):
                    assert type(answer.request) in MAY_ASK[Role.CONSOLE]
            if any(isinstance(answer, Close) for answer in answers):
                break


def rss_bytes() -> int:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


@pytest.mark.timeout(300)
@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="memory is read from /proc")
def test_thousands_of_bad_messages_over_tls_leave_the_session_alone(
    near_station: NetStation, monkeypatch: pytest.MonkeyPatch
) -> None:
    station = near_station
    # How many may come has tests of its own; here everything is to come through.
    monkeypatch.setattr(Admission, "_take", lambda *_: True)
    hostile = Hostile(3, "front desk", station.network.fingerprint)
    good = remote(station.pair(), station.place)
    over = threading.Event()

    def live() -> None:
        while not over.wait(0.2):
            good.ping()

    living = threading.Thread(target=live, daemon=True)
    living.start()
    until(lambda: joined(good))
    sent, before = 0, 0
    try:
        while sent < OVER_TLS:
            connection = Raw(station.place)
            with contextlib.suppress(ConnectionClosed):
                for _ in range(4):
                    connection.send(hostile.message())
                    sent += 1
            connection.drop()
            if sent % 50 < 4:
                station.server.publish(snapshot(sent))
            if not before and sent > OVER_TLS // 3:
                gc.collect()
                before = rss_bytes()
        gc.collect()
        growth = rss_bytes() - before
        print(f"grown by {growth / 1e6:.1f} MB")
        assert growth < 8_000_000
        assert station.untouched()
        assert station.server.consoles() == ("front desk",)
        assert station.server.problem() is None
        station.server.publish(snapshot(99_999))
        until(lambda: good.status().snapshot == snapshot(99_999))
        good.stop()
        assert station.stops.get(timeout=PATIENCE_S)[1].name == "front desk"
    finally:
        over.set()
        living.join()
        good.close()


def test_a_pairing_that_was_recorded_cannot_be_played_again(station: NetStation) -> None:
    code = station.network.open_pairing()
    exchange = ConsoleExchange(code, "office", station.network.fingerprint, PROTOCOL, os.urandom)
    start = encode_at_door(exchange.start())
    with Raw(station.place) as first:
        first.send(start)
        share = decode_from_door(first.recv(timeout=PATIENCE_S))
        assert isinstance(share, PairShare)
        answer = exchange.on_share(share)
        assert answer is not None
        confirm = encode_at_door(answer)
        first.send(confirm)
        first.recv(timeout=PATIENCE_S)
    assert station.paired.get(timeout=PATIENCE_S) == "office"
    with Raw(station.place) as again:  # the code is used up
        again.send(start)
        assert isinstance(decode_from_door(again.recv(timeout=PATIENCE_S)), Refused)
    station.network.open_pairing()  # and with a new code the old answer does not fit
    with Raw(station.place) as again:
        again.send(start)
        assert isinstance(decode_from_door(again.recv(timeout=PATIENCE_S)), PairShare)
        again.send(confirm)
        assert isinstance(decode_from_door(again.recv(timeout=PATIENCE_S)), Refused)
    assert station.paired.empty()


def test_a_recorded_proof_does_not_open_another_connection(station: NetStation) -> None:
    known = station.pair()
    approach = encode_at_door(Approach(protocol=PROTOCOL, name=known.called))
    hello = encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE))
    with Raw(station.place) as first:
        first.send(approach)
        challenge = decode_from_door(first.recv(timeout=PATIENCE_S))
        assert isinstance(challenge, Challenge)
        proof = encode_at_door(sign(known.seed, challenge, known.fingerprint, known.called))
        first.send(proof)
        first.send(hello)
        until(lambda: station.server.consoles() == ("front desk",))
    until(lambda: station.server.consoles() == ())
    with Raw(station.place) as second:
        second.send(approach)
        second.recv(timeout=PATIENCE_S)
        second.send(proof)
        assert isinstance(decode_from_door(second.recv(timeout=PATIENCE_S)), Refused)


@contextlib.contextmanager
def half_open(station: NetStation, count: int) -> Iterator[list[socket.socket]]:
    """Connections that never say a word."""
    with contextlib.ExitStack() as opened:
        yield [
            opened.enter_context(socket.create_connection(station.place, PATIENCE_S))
            for _ in range(count)
        ]


def test_who_opens_connections_and_says_nothing_gets_few_and_loses_them(
    station: NetStation,
) -> None:
    good = remote(station.pair(), station.place)
    until(lambda: joined(good))
    with half_open(station, 2 * MOST_UNPROVED_FROM_ONE):
        until(lambda: station.network.connections()[0] >= MOST_UNPROVED_FROM_ONE)
        assert station.network.connections() == (MOST_UNPROVED_FROM_ONE + 1, 1)
        good.stop()
        station.stops.get(timeout=PATIENCE_S)
        deadline = time.monotonic() + PATIENCE_S
        # They are dropped though they are still held at their end.
        while station.network.connections()[0] > 1:
            sign_of_life(good)
            assert time.monotonic() < deadline
            time.sleep(0.1)
        assert joined(good)
    good.close()


def slow_reader(station: NetStation) -> Raw:
    """A paired console that has joined and then reads next to nothing any more."""
    known = station.pair("slow")
    connection = Raw(station.place, known.certificate)
    connection.send(encode_at_door(Approach(protocol=PROTOCOL, name=known.called)))
    challenge = decode_from_door(connection.recv())
    assert isinstance(challenge, Challenge)
    proof = sign(known.seed, challenge, known.fingerprint, known.called)
    connection.send(encode_at_door(proof))
    connection.send(encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE)))
    until(lambda: "slow" in station.server.consoles())
    return connection


def test_a_slow_reader_holds_nobody_up_and_fills_no_memory(station: NetStation) -> None:
    slow = slow_reader(station)
    good = remote(station.pair("good"), station.place)
    until(lambda: joined(good))
    large = snapshot(1, code_name="x" * 20_000)

    def has(message: Snapshot) -> bool:
        shown = good.status().snapshot
        return shown is not None and shown.number == message.number

    def publish(first: int, last: int) -> None:
        for number in range(first, last):
            message = snapshot(number, code_name=large.code_name)
            station.server.publish(message)
            if number % 100 == 0:
                good.ping()
                slow.send(encode(Ping(at_ns=number)))
                until(partial(has, message))

    publish(2, 1001)
    tracemalloc.start()
    publish(1001, 2001)
    gc.collect()
    before = tracemalloc.get_traced_memory()[0]
    publish(2001, 4001)
    gc.collect()
    growth = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    assert growth < 300_000  # 2,000 snapshots of 20 kB would be 40 MB
    assert "slow" in station.server.consoles()  # it gives signs of life, so it may stay
    good.close()
    slow.close()


@pytest.mark.parametrize("data", [b"GET / HTTP/1.1\r\n\r\n", b"\x16\x03\x01\x00\xff" + bytes(255)])
def test_what_is_not_tls_gets_no_answer_of_ours(station: NetStation, data: bytes) -> None:
    with socket.create_connection(station.place, PATIENCE_S) as connection:
        connection.sendall(data)
        got = b""
        with contextlib.suppress(ConnectionResetError):
            got = connection.recv(4096)
    assert b"beltside" not in got.lower()
    assert b"HTTP" not in got
    assert station.untouched()


def test_a_web_page_cannot_reach_it(station: NetStation) -> None:
    with (
        pytest.raises(InvalidHandshake),
        connect(
            f"wss://{station.place}",
            ssl=client_context(None),
            origin=Origin("https://example.org"),
            proxy=None,
        ),
    ):
        pass
    with pytest.raises((InvalidHandshake, OSError)), connect(f"ws://{station.place}", proxy=None):
        pass


def test_an_answer_before_the_door_tells_nothing_of_the_program(station: NetStation) -> None:
    context = client_context(None)
    with (
        socket.create_connection((HOST, station.place.port), PATIENCE_S) as plain,
        context.wrap_socket(plain) as connection,
    ):
        connection.sendall(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
        got = b""
        with contextlib.suppress(ssl.SSLError, ConnectionResetError):
            while part := connection.recv(4096):
                got += part
    assert got.startswith(b"HTTP/1.1 426")
    for word in (b"python", b"beltside", b"room 1", b"Heron"):
        assert word.lower() not in got.lower()
