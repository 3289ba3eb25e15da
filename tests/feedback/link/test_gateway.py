"""The gateway is a process of its own, and all that a stranger can make busy is in there."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from feedback.link.admission import decode_from_door
from feedback.link.client_state import LinkState
from feedback.link.connect import approach
from feedback.link.consoles import KnownStation
from feedback.link.gateway_messages import Begin, line_of
from feedback.link.protocol import Vouch, encode
from feedback.link.quota import MOST_UNPROVED, MOST_UNPROVED_FROM_ONE, UNPROVED_BYTES
from feedback.link.remote_client import RemoteClient
from feedback.texts.network import phrase
from shared.child_environment import child_environment
from shared.messages import PROTOCOL, Hello, Ping, Refused, Role
from tests.bench.flooder import Flood, masked
from tests.feedback.link.examples import snapshot
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
pytestmark = [
    pytest.mark.usefixtures("quiet_network"),
    pytest.mark.skipif(sys.platform == "win32", reason="its signals are POSIX's"),
]


@pytest.fixture
def station(tmp_path: Path) -> Iterator[NetStation]:
    built = NetStation(tmp_path / "station")
    built.server.brief(briefing())
    built.server.publish(snapshot(1))
    yield built
    built.close()


def gateway_of(station: NetStation) -> subprocess.Popen[bytes]:
    return station.network._process


class Alive:
    """Consoles that give signs of life, at a station that says something ten times a second."""

    def __init__(self, station: NetStation, *clients: RemoteClient) -> None:
        self.station, self.clients = station, clients
        self.number = 1

    def beat(self) -> bool:
        """True, always: for use in conditions."""
        self.number += 1
        self.station.server.publish(snapshot(self.number))
        for client in self.clients:
            sign_of_life(client)
        return True

    def until(self, check: Callable[[], bool]) -> None:
        until(lambda: self.beat() and check())


def test_it_is_another_process_and_the_station_listens_to_this_computer_alone(
    station: NetStation,
) -> None:
    assert gateway_of(station).pid != os.getpid()
    listening = []
    for number in range(3, 256):
        with contextlib.suppress(OSError), socket.socket(fileno=os.dup(number)) as one:
            if one.getsockopt(socket.SOL_SOCKET, socket.SO_ACCEPTCONN) and one.family in (
                socket.AF_INET,
                socket.AF_INET6,
            ):
                listening.append(one.getsockname()[0])
    assert set(listening) == {HOST}


def test_a_killed_gateway_is_told_and_comes_back_with_its_consoles(station: NetStation) -> None:
    client = remote(station.pair(), station.place)
    until(lambda: joined(client))
    first = gateway_of(station).pid
    gateway_of(station).kill()
    until(lambda: "gateway_lost" in {problem.code for problem in station.server.problems()})
    alive = Alive(station, client)
    alive.until(lambda: gateway_of(station).pid != first and joined(client))
    alive.until(lambda: station.server.consoles() == ("front desk",))
    alive.until(lambda: station.server.problems() == ())
    client.stop()
    assert station.stops.get(timeout=PATIENCE_S)[1].name == "front desk"
    client.close()


def test_a_gateway_that_hangs_is_started_anew(station: NetStation) -> None:
    first = gateway_of(station).pid
    gateway_of(station).send_signal(signal.SIGSTOP)
    until(lambda: "gateway_lost" in {problem.code for problem in station.server.problems()})
    until(lambda: gateway_of(station).pid != first and station.server.problems() == ())
    client = remote(station.pair(), station.place)
    until(lambda: joined(client))
    client.close()


def test_a_killed_station_leaves_no_gateway_behind(tmp_path: Path) -> None:
    text = (
        "import sys, time; from pathlib import Path; "
        "from feedback.link.network_station import Network; "
        "n = Network(Path(sys.argv[1]), 'room 1', 0); print(n._process.pid, flush=True); "
        "time.sleep(60)"
    )
    with subprocess.Popen(
        [sys.executable, "-c", text, str(tmp_path)],
        stdout=subprocess.PIPE,
        env=child_environment(os.environ),
    ) as dying:
        assert dying.stdout is not None
        gateway = int(dying.stdout.readline())
        dying.kill()
    until(lambda: not Path(f"/proc/{gateway}").exists() or is_zombie(gateway))


def is_zombie(process: int) -> bool:
    with contextlib.suppress(OSError):
        return ") Z " in Path(f"/proc/{process}/stat").read_text(encoding="ascii")
    return True


def told(said: bytes) -> subprocess.CompletedProcess[bytes]:
    """A gateway that is told this, and nothing more."""
    return subprocess.run(
        [sys.executable, "-m", "feedback.link.gateway"],
        input=said,
        capture_output=True,
        env=child_environment(os.environ),
        timeout=PATIENCE_S,
        check=False,
    )


@pytest.mark.parametrize("said", [b"", b"nonsense\n", b'{"type":"announce"}\n'])
def test_without_a_station_it_ends_at_once(said: bytes) -> None:
    ended = told(said)
    assert (ended.returncode, ended.stdout, ended.stderr) == (2, b"", b"")


def test_what_keeps_it_from_beginning_is_told_in_plain_words(tmp_path: Path) -> None:
    folder = tmp_path / "station"
    folder.mkdir()
    (folder / "station.pem").write_text("no certificate", encoding="ascii")
    begin = line_of(Begin(folder=str(folder), name="room 1", port=0))
    ended = told(begin)
    assert b"certificate_damaged" in ended.stdout
    assert ended.stderr == b""


def ends(connection: ssl.SSLSocket) -> bytes:
    """What still comes before the end; fails the test when that never comes."""
    connection.settimeout(PATIENCE_S)
    got = b""
    with contextlib.suppress(ConnectionResetError, BrokenPipeError, ssl.SSLError):
        while part := connection.recv(65536):
            got += part
    return got


PONG, CLOSE = 0x8A, 0x88
GUESS = "a guess"


@pytest.mark.parametrize("opcode", [0x9, 0xA])
def test_nobody_gets_an_answer_to_a_ping(station: NetStation, opcode: int) -> None:
    with Flood(HOST, station.place.port, 1.0).websocket() as connection:
        connection.sendall(masked(opcode, fin=True))
        got = ends(connection)
    assert got[0] == CLOSE
    assert PONG not in got
    assert station.untouched()


@pytest.mark.parametrize("first", [0x1, 0x2])
def test_no_message_is_put_together_from_pieces(station: NetStation, first: int) -> None:
    with Flood(HOST, station.place.port, 1.0).websocket() as connection:
        connection.sendall(masked(first, fin=False))
        assert ends(connection)[0] == CLOSE


def test_who_sends_more_than_a_proof_takes_is_cut_off(station: NetStation) -> None:
    with Flood(HOST, station.place.port, 1.0).websocket() as connection:
        with contextlib.suppress(OSError):
            connection.sendall(bytes(4 * UNPROVED_BYTES))
        ends(connection)
    until(lambda: station.network.connections() == (0, 0))


def test_a_console_finds_a_place_beside_any_number_of_silent_ones(station: NetStation) -> None:
    known = station.pair()
    with contextlib.ExitStack() as opened:
        for number in range(64):
            with contextlib.suppress(OSError):  # turned away for coming too fast
                opened.enter_context(
                    socket.create_connection(
                        station.place, PATIENCE_S, source_address=(f"127.0.1.{number % 8 + 1}", 0)
                    )
                )
        until(lambda: station.network.connections()[0] > MOST_UNPROVED_FROM_ONE)
        began = time.monotonic()
        client = remote(known, station.place)
        until(lambda: joined(client))
        assert time.monotonic() - began < 5.0
        assert station.network.connections()[0] <= MOST_UNPROVED + 1
        client.stop()
        station.stops.get(timeout=PATIENCE_S)
        client.close()


def test_one_key_joins_at_most_twice(station: NetStation) -> None:
    known = station.pair()
    clients = [remote(known, station.place) for _ in range(2)]
    Alive(station, *clients).until(lambda: all(joined(client) for client in clients))
    third = remote(known, station.place)
    both = Alive(station, *clients)
    both.until(lambda: third.status().state is LinkState.REFUSED)
    assert third.status().why == phrase("twice")
    # One that says nothing any more gives way before the station has missed it.
    Alive(station, clients[0], third).until(lambda: joined(third))
    for client in (*clients, third):
        client.close()


def test_only_the_gateway_can_vouch(station: NetStation, known: KnownStation) -> None:
    """Neither a program on this computer, nor a console that has proved its own key."""
    forged = encode(Vouch(secret=GUESS, name="front desk"))
    hello = encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE))
    port = station.server.start()
    with connect(f"ws://{HOST}:{port}", proxy=None, compression=None) as local:
        local.send(forged)
        data = local.recv(timeout=PATIENCE_S)
        assert isinstance(data, bytes)
        assert isinstance(decode_from_door(data), Refused)
    connection = proved(station, known)
    connection.send(encode(Vouch(secret=GUESS, name="office")))
    connection.send(hello)
    data = connection.recv(timeout=PATIENCE_S)
    assert isinstance(data, bytes)
    assert isinstance(decode_from_door(data), Refused)
    connection.close()
    assert station.server.consoles() == ()


@pytest.fixture
def known(station: NetStation) -> KnownStation:
    return station.pair()


def proved(station: NetStation, known: KnownStation) -> Raw:
    """A connection that has proved its key and said no word inside."""
    connection = Raw(station.place, known.certificate)
    assert connection._runner.run(approach(connection._connection, known)) == ""
    return connection


def test_a_console_that_floods_is_ended_and_its_stop_is_heard(
    station: NetStation, known: KnownStation
) -> None:
    connection = proved(station, known)
    connection.send(encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE)))
    until(lambda: station.server.consoles() == ("front desk",))
    sent = 0
    with contextlib.suppress(ConnectionClosed, OSError):
        while sent < 2000:
            connection.send(encode(Ping(at_ns=sent)))
            sent += 1
    until(lambda: station.server.consoles() == ())
    assert station.server.problem() is None
    connection.drop()


@pytest.mark.parametrize("kind", ["pings", "fragments", "handshakes", "connections", "silent"])
def test_a_flood_takes_nothing_of_the_station_and_a_console_stops_it_all_the_same(
    station: NetStation, known: KnownStation, kind: str
) -> None:
    """Processor time of this process, which is the station's, under the flood and without it."""
    client = remote(known, station.place)
    alive = Alive(station, client)
    alive.until(lambda: joined(client))
    calm = time_taken(alive, 2.0)
    command = [sys.executable, "-m", "tests.bench.flooder", kind, HOST, str(station.place.port)]
    with subprocess.Popen([*command, "20"], stderr=subprocess.DEVNULL) as flooder:
        try:
            alive.until(lambda: station.network.connections()[0] > 1)
            flooded = time_taken(alive, 2.0)
            assert joined(client)
            client.stop()
            assert station.stops.get(timeout=PATIENCE_S)[1].name == "front desk"
        finally:
            flooder.kill()
    print(f"{kind}: {flooded:.3f} s of 2 s, {calm:.3f} s without it")
    assert flooded < 2 * calm + 0.1
    assert station.untouched()
    client.close()


def time_taken(alive: Alive, seconds: float) -> float:
    """Processor seconds of this process while a console is joined and does nothing."""
    began = time.process_time()
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        alive.beat()
        time.sleep(0.1)
    return time.process_time() - began
