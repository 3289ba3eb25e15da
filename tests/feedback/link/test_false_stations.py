"""False stations on a real network cost a console next to nothing, however many there are."""

from __future__ import annotations

import socket
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path

import pytest

from feedback.link import reconnect as calling
from feedback.link import remote_client as remote
from feedback.link.address import Address
from feedback.link.consoles import KnownStation, StationList
from feedback.link.directory import Directory
from feedback.link.remote_client import RemoteClient
from shared.units import NS_PER_MS
from tests.feedback.link.examples import snapshot
from tests.feedback.link.netting import HOST, NetStation, briefing, joined, sign_of_life, until
from tests.feedback.link.netting import quiet_network as quiet_network

if sys.platform != "linux":
    pytest.skip("network namespaces are Linux's", allow_module_level=True)

from tests.feedback.link.false_names import flood
from tests.feedback.link.false_stations import KINDS, FalseStations
from tests.feedback.link.wires import DirectWire, Wire, why_not, wire

__all__ = ["wire"]


def announced(directory: Directory, prefix: str, port: int) -> bool:
    return any((one.prefix, one.port) == (prefix, port) for one in directory.found())


def started(folder: Path) -> NetStation:
    station = NetStation(folder, "room 1")
    station.server.brief(briefing())
    station.server.publish(snapshot(1))
    return station


def paired(directory: Directory, station: NetStation, address: str) -> KnownStation:
    place = Address(address, station.network.port)
    return directory.pair((place,), station.network.open_pairing(), "desk")


def held(client: RemoteClient) -> bool:
    sign_of_life(client)
    return joined(client)


@pytest.mark.parametrize("moved", [False, True], ids=["where it was", "on another port"])
def test_a_stop_arrives_soon_after_the_cable_is_whole_among_false_stations_of_every_kind(
    wire: Wire, tmp_path: Path, moved: bool
) -> None:
    with wire.station.entered():
        station = started(tmp_path / "station")
    prefix = station.network.fingerprint[:16]
    false = FalseStations(wire.station, tmp_path / "other", prefix, len(KINDS))
    with false, ExitStack() as opened:
        with wire.console.entered():
            directory = Directory(tmp_path / "office")
            opened.callback(directory.close)
            client = directory.join(paired(directory, station, wire.station.address))
            opened.callback(client.close)
        until(lambda: held(client) and len(directory.found()) == len(KINDS) + 1)
        until(lambda: held(client) and client.status().briefing)
        wire.cut()
        until(lambda: not joined(client))
        client.stop()
        if moved:
            station.close()
            with wire.station.entered():
                station = started(tmp_path / "station")
        opened.callback(station.close)
        time.sleep(3.0)
        wire.mend()
        mended = time.monotonic()
        _, asker = station.stops.get(timeout=20.0)
        # What is announced anew has to come through first.
        assert time.monotonic() - mended < (6.0 if moved else 3.0)
        assert asker.name == "desk"
    assert false.told == 0
    if moved:
        assert sum(false.called) > 0, "they were called, and told nothing"


@pytest.fixture
def direct_wire() -> Iterator[DirectWire]:
    if why := why_not():
        pytest.skip(why)
    built = DirectWire()
    yield built
    built.remove()


@pytest.mark.parametrize("how", ["whole", "bare"])
def test_ten_thousand_false_names_do_not_hide_the_paired_station_or_fill_the_memory(
    direct_wire: DirectWire, tmp_path: Path, how: str
) -> None:
    """``bare``: names that nobody answers for, each of which has to be asked for."""
    with ExitStack() as opened:
        with direct_wire.station.entered():
            station = NetStation(tmp_path / "station", "room 1")
        opened.callback(station.close)
        prefix = station.network.fingerprint[:16]
        with direct_wire.console.entered():
            directory = Directory(tmp_path / "office", look=False)
            paired(directory, station, direct_wire.station.address)
        opened.enter_context(flood(direct_wire.station, "f" * 16, 10_000, 4000.0, how))
        before = resident_mb()
        with direct_wire.console.entered():
            directory = Directory(tmp_path / "office")
        opened.callback(directory.close)
        until(partial(announced, directory, prefix, station.network.port))
        time.sleep(4.0)
        assert announced(directory, prefix, station.network.port)
        assert len(directory.found()) <= 201
        assert (directory.more() > 0) == (how == "whole")
        assert resident_mb() - before < 80.0  # seen: 39


def resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * 4096 / 1e6


@pytest.mark.usefixtures("quiet_network")
def test_where_it_was_met_somebody_else_says_nothing_and_it_is_joined_elsewhere_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for module in (remote, calling):
        monkeypatch.setattr(module, "HELD_NS", 100 * NS_PER_MS)
    station = NetStation(tmp_path / "station")
    station.server.brief(briefing())
    known = station.pair()
    met: list[Address] = []
    with socket.create_server((HOST, 0)) as silent:
        places = (Address(HOST, silent.getsockname()[1]), station.place)
        client = RemoteClient(known, lambda: places, on_met=met.append)
        began = time.monotonic()
        client.start()
        until(lambda: joined(client))
        assert time.monotonic() - began < 2.0
        for number in range(100):
            station.server.publish(snapshot(number))
            time.sleep(0.01)
        assert until(lambda: met) == [station.place]
        client.close()
    station.close()


def test_where_a_station_was_met_is_kept_unless_it_was_forgotten(tmp_path: Path) -> None:
    known = KnownStation(
        name="room 1",
        fingerprint="ab" * 32,
        certificate=b"der",
        called="desk",
        seed=bytes(32),
        host="192.0.2.9",
        port=5000,
    )
    stations = StationList(tmp_path)
    stations.keep(known)
    stations.met_at(known.fingerprint, Address("192.0.2.7", 5001))
    (kept,) = stations.all()
    assert (kept.host, kept.port, kept.seed) == ("192.0.2.7", 5001, known.seed)
    stations.remove(known.fingerprint)
    stations.met_at(known.fingerprint, Address("192.0.2.8", 5001))
    assert stations.all() == ()
