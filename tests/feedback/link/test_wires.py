"""Station and console on two computers with a cable between them that is good, bad or cut."""

from __future__ import annotations

import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from feedback.link.address import Address
from feedback.link.certificate import grouped
from feedback.link.client_state import LinkState
from feedback.link.connect import pair_with
from feedback.link.directory import Directory
from feedback.link.protocol import Asker
from feedback.link.remote_client import RemoteClient
from feedback.link.server import LinkServer
from shared.changes import Adjust, Answered
from shared.messages import Request
from shared.problems import UserError
from tests.feedback.link.examples import snapshot
from tests.feedback.link.netting import NetStation, briefing, joined, points, until

if sys.platform != "linux":
    pytest.skip("network namespaces are Linux's", allow_module_level=True)

from tests.feedback.link.wires import Wire, browser_daemon, wire

__all__ = ["wire"]
NAME = "treadmill room"


class Office:
    """A clinician's computer at the other end: it finds stations, and gives signs of life."""

    def __init__(self, wire: Wire, folder: Path) -> None:
        self._wire = wire
        self._opened = ExitStack()
        with wire.console.entered():
            self.directory = Directory(folder)
        self._opened.callback(self.directory.close)
        self._clients: list[RemoteClient] = []
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._live, daemon=True)
        self._thread.start()

    def pair(self, station: NetStation) -> RemoteClient:
        """Pair with the station that has this certificate, as it was found, and join it."""
        prefix = station.network.fingerprint[:16]
        (found,) = until(lambda: [f for f in self.directory.found() if f.prefix == prefix])
        places = tuple(Address(host, found.port) for host in found.hosts)
        with self._wire.console.entered():
            known = self.directory.pair(places, station.network.open_pairing(), "front desk")
            client = self.directory.join(known)
        self._clients.append(client)
        until(lambda: joined(client))
        return client

    def close(self) -> None:
        self._over.set()
        self._thread.join()
        for client in self._clients:
            client.close()
        self._opened.close()

    def _live(self) -> None:
        while not self._over.wait(0.4):
            for client in tuple(self._clients):
                client.ping()


@pytest.fixture
def station(wire: Wire, tmp_path: Path) -> Iterator[NetStation]:
    with wire.station.entered():
        built = NetStation(tmp_path / "station", NAME)
    built.server.brief(briefing())
    built.server.publish(snapshot(1))
    yield built
    built.close()


@pytest.fixture
def office(wire: Wire, tmp_path: Path) -> Iterator[Office]:
    built = Office(wire, tmp_path / "office")
    yield built
    built.close()


class Charted:
    """What a console's charts hold."""

    def __init__(self, client: RemoteClient) -> None:
        self._client = client
        self.numbers: list[int] = []

    def has(self, count: int) -> bool:
        self.numbers += [point.number for point in self._client.take_points()]
        return len(self.numbers) >= count


def run_on(station: NetStation, first: int, last: int, pause_s: float = 0.02) -> None:
    """A session that goes on: a point and a snapshot for each step."""
    for number in range(first, last + 1):
        station.server.add_points(points(number, number))
        station.server.publish(snapshot(number, step_number=number))
        time.sleep(pause_s)


def test_a_station_is_found_paired_and_followed_over_the_cable(
    station: NetStation, office: Office
) -> None:
    client = office.pair(station)
    charted = Charted(client)
    run_on(station, 1, 50)
    until(lambda: charted.has(50))
    assert charted.numbers == list(range(1, 51))
    client.stop()
    assert station.stops.get(timeout=5)[1].name == "front desk"


def test_with_loss_and_delay_every_point_and_every_change_arrives_once(
    wire: Wire, station: NetStation, office: Office
) -> None:
    client = office.pair(station)
    asked: list[int] = []

    def answer(request: Request, asker: Asker) -> None:
        assert isinstance(request, Adjust)
        asked.append(request.id)
        station.server.answer(asker.connection, Answered(id=request.id, done=True))

    station.server._on_request = answer
    wire.disturb(loss=0.05, delay_s=0.04, jitter_s=0.02)
    charted = Charted(client)
    told: list[Answered] = []
    for number in range(1, 101):
        run_on(station, number, number)
        if number % 5 == 0:
            client.ask(Adjust(id=number, number=0, revision=1, aim=170.0))
        told += client.take_answers()
    until(lambda: charted.has(100))
    assert charted.numbers == list(range(1, 101))

    def all_told() -> bool:
        told.extend(client.take_answers())
        return len(told) >= 20

    until(all_told)
    done = sorted(one.id for one in told if one.done)
    assert len(set(asked)) == len(asked)
    assert set(done) <= set(asked)
    # What was asked while the link was broken is answered too: that it is not known.
    assert sorted(one.id for one in told) == list(range(5, 101, 5))


def test_with_the_cable_cut_the_station_goes_on_and_the_charts_are_whole_again(
    wire: Wire, station: NetStation, office: Office
) -> None:
    client = office.pair(station)
    charted = Charted(client)
    run_on(station, 1, 20)
    until(lambda: charted.has(20))
    wire.cut()
    cut = time.monotonic()
    run_on(station, 21, 60)
    until(lambda: client.status().state is LinkState.LOST)
    assert time.monotonic() - cut < 4.0
    until(lambda: [p.code for p in station.server.problems()] == ["console_lost"])
    assert client.status().snapshot is not None
    client.stop()
    assert client.status().stop_waits
    run_on(station, 61, 80)
    assert station.stops.empty()
    wire.mend()
    mended = time.monotonic()
    stop, asker = station.stops.get(timeout=15)
    assert asker.name == "front desk"
    assert time.monotonic() - mended < 8.0
    assert stop.asked_ns > 0
    until(lambda: charted.has(80))
    assert charted.numbers == list(range(1, 81))
    assert station.server.problems() == ()
    assert not station.gone.empty()  # the station knew, and went on


def test_two_stations_of_one_name_are_told_apart(
    wire: Wire, station: NetStation, office: Office, tmp_path: Path
) -> None:
    with wire.station.entered():
        other = NetStation(tmp_path / "other", NAME)
    try:
        first, second = office.pair(station), office.pair(other)
        names = {f.name for f in office.directory.found()}
        assert len(office.directory.found()) == len(names) == 2
        assert first.station.name == second.station.name == NAME
        assert grouped(first.station.fingerprint) != grouped(second.station.fingerprint)
        second.stop()
        assert other.stops.get(timeout=5)[1].name == "front desk"
        assert station.stops.empty()
    finally:
        other.close()


def test_a_station_that_comes_back_on_another_port_is_found_again(
    wire: Wire, station: NetStation, office: Office, tmp_path: Path
) -> None:
    client = office.pair(station)
    station.close()
    until(lambda: client.status().state is LinkState.ENDED)
    with wire.station.entered():
        again = NetStation(tmp_path / "station", NAME)
    try:
        until(lambda: joined(client))
        assert again.place.port != station.place.port
    finally:
        again.close()


@pytest.mark.skipif(shutil.which("avahi-browse") is None, reason="avahi-utils is not installed")
@pytest.mark.skipif(shutil.which("avahi-daemon") is None, reason="avahi-daemon is not installed")
def test_avahi_sees_the_station_and_nothing_about_anybody(
    wire: Wire, station: NetStation, tmp_path: Path
) -> None:
    command = wire.console.command("avahi-browse", "-rpt", "_beltside._tcp")
    with browser_daemon(wire.console, tmp_path) as environment:

        def seen() -> list[str]:
            found = subprocess.run(
                command, env=environment, capture_output=True, text=True, timeout=20, check=False
            )
            return [line for line in found.stdout.splitlines() if line.startswith("=")]

        (line,) = until(seen)
    kind, _, _, name, service, domain, _, address, port, text = line.split(";")
    assert (kind, service, domain) == ("=", "_beltside._tcp", "local")
    assert name == NAME.replace(" ", "\\032")
    assert (address, int(port)) == (wire.station.address, station.place.port)
    prefix = station.network.fingerprint[:16]
    assert sorted(text.split()) == [f'"fp={prefix}"', '"v=3"']


def test_the_network_is_not_opened_unless_it_is_asked_for(wire: Wire, tmp_path: Path) -> None:
    with wire.station.entered():
        server = LinkServer(lambda *_: None, lambda _: None, lambda *_: None)
        port = server.start()
    with wire.console.entered(), pytest.raises(UserError, match="No station answers"):
        pair_with(Address(wire.station.address, port), "123456", "desk")
    listening = subprocess.run(
        wire.station.command("ss", "-Hltn"), capture_output=True, text=True, check=True
    )
    addresses = [line.split()[3] for line in listening.stdout.splitlines()]
    assert addresses == [f"127.0.0.1:{port}"]
    server.close("")
