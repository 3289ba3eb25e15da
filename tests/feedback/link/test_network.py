"""A console over real TLS: paired, joined, lost and joined again, and removed."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import msgspec
import pytest

from feedback.link.client_state import LinkState
from feedback.link.consoles import ConsoleList, KnownStation
from feedback.link.discovery import own_addresses
from feedback.link.protocol import Asker, encode
from feedback.link.remote_client import RemoteClient
from feedback.texts.network import phrase
from shared.changes import Adjust, Answered
from shared.messages import Confirm, FromStation, GoOn, Hello, Point, Refused, Role, SessionState
from shared.pictures import WatchPictures
from tests.feedback.link.examples import snapshot
from tests.feedback.link.netting import (
    PATIENCE_S,
    Cable,
    NetStation,
    Raw,
    briefing,
    joined,
    points,
    quiet_network,
    remote,
    sign_of_life,
    until,
)

__all__ = ["quiet_network"]
pytestmark = pytest.mark.usefixtures("quiet_network")
ADJUST = Adjust(id=5, number=0, revision=1, aim=176.0)


@pytest.fixture
def station(tmp_path: Path) -> Iterator[NetStation]:
    built = NetStation(tmp_path / "station")
    yield built
    built.close()


@pytest.fixture
def known(station: NetStation) -> KnownStation:
    return station.pair()


@pytest.fixture
def cable(station: NetStation) -> Iterator[Cable]:
    built = Cable(station.place)
    yield built
    built.close()


def numbers_of(client: RemoteClient, count: int) -> list[int]:
    """The numbers of the first points that come, as they come."""
    got: list[int] = []

    def enough() -> bool:
        got.extend(point.number for point in client.take_points())
        return len(got) >= count

    until(enough)
    return got


def is_out(client: RemoteClient) -> bool:
    return not joined(client)


def held(client: RemoteClient) -> bool:
    """Whether it holds on to its link, with signs of life as a window gives them."""
    sign_of_life(client)
    return joined(client)


def test_a_paired_console_joins_under_its_name_and_sees_what_screens_see(
    station: NetStation, known: KnownStation
) -> None:
    assert station.paired.get(timeout=PATIENCE_S) == "front desk"
    station.server.brief(briefing())
    station.server.add_points(points(1, 2500))
    station.server.publish(snapshot(7))
    client = remote(known, station.place)
    until(lambda: client.status().snapshot)
    assert client.status().snapshot == snapshot(7)
    assert client.status().briefing == briefing()
    assert client.status().lost_ns is None
    assert station.server.consoles() == ("front desk",)
    assert numbers_of(client, 2500) == list(range(1, 2501))
    client.close()
    assert station.gone.get(timeout=PATIENCE_S).name == "front desk"
    assert station.server.consoles() == ()
    assert station.server.problems() == ()  # it said goodbye: nothing is missed


def test_what_a_console_asks_for_carries_its_name_and_is_answered_to_it_alone(
    station: NetStation, known: KnownStation
) -> None:
    one, two = remote(known, station.place), remote(station.pair("office"), station.place)
    until(lambda: joined(one) and joined(two))
    one.ask(ADJUST)
    request, asker = station.requests.get(timeout=PATIENCE_S)
    assert request == ADJUST
    assert (asker.role, asker.name) == (Role.CONSOLE, "front desk")
    answer = Answered(id=5, done=True, from_step=40)
    station.server.answer(asker.connection, answer)
    assert until(one.take_answers) == (answer,)
    assert two.take_answers() == ()
    for client in (one, two):
        client.close()


def test_stop_on_a_console_stops_at_once(station: NetStation, known: KnownStation) -> None:
    station.server.brief(briefing())
    station.server.publish(snapshot(1))
    client = remote(known, station.place)
    until(lambda: client.status().snapshot)
    client.stop()
    _, asker = station.stops.get(timeout=1.0)
    assert asker.name == "front desk"
    assert client.status().stop_waits  # until the station shows it
    station.server.publish(snapshot(2, state=SessionState.STOPPED))
    until(lambda: not client.status().stop_waits)
    assert client.status().stop_asked
    client.close()


def test_a_console_may_not_start_anything(station: NetStation, known: KnownStation) -> None:
    for request in (Confirm(), GoOn()):
        client = remote(known, station.place)
        until(partial(joined, client))
        client.ask(request)
        until(partial(is_out, client))
        client.close()
    assert station.requests.empty()


def test_with_a_cut_cable_both_say_so_and_the_charts_have_no_gap_afterwards(
    station: NetStation, known: KnownStation, cable: Cable
) -> None:
    station.server.brief(briefing())
    station.server.add_points(points(1, 50))
    station.server.publish(snapshot(1))
    client = remote(known, cable.place)
    got: list[Point] = []

    def take() -> int:
        station.server.publish(snapshot(2))
        got.extend(client.take_points())
        return len(got)

    until(lambda: held(client) and take() == 50)
    cable.cut()
    station.server.add_points(points(51, 80))
    until(lambda: take() and client.status().lost_ns is not None)
    assert client.status().state is LinkState.LOST
    assert client.status().snapshot is not None  # the last that was known
    assert client.status().why == phrase("silent")
    assert station.gone.get(timeout=PATIENCE_S).name == "front desk"
    (problem,) = station.server.problems()
    assert problem.code == "console_lost"
    assert "front desk" in problem.title
    client.ask(ADJUST)
    (answer,) = client.take_answers()
    assert (answer.id, answer.done, answer.why) == (5, False, phrase("not_sent"))
    station.server.add_points(points(81, 90))
    cable.mend()
    mended = time.monotonic()
    until(lambda: held(client) and take() == 90)
    assert time.monotonic() - mended < 6.0
    assert [point.number for point in got] == list(range(1, 91))
    assert station.server.problems() == ()
    assert station.requests.empty()
    client.close()


def test_a_stop_asked_for_while_the_cable_is_cut_arrives_as_soon_as_it_is_mended(
    station: NetStation, known: KnownStation, cable: Cable
) -> None:
    station.server.brief(briefing())
    station.server.publish(snapshot(1))
    client = remote(known, cable.place)
    until(lambda: client.status().briefing)
    cable.cut()
    until(lambda: client.status().state is LinkState.LOST)
    client.stop()
    assert client.status().stop_waits
    assert station.stops.empty()
    cable.mend()
    stop, _ = station.stops.get(timeout=PATIENCE_S)
    assert stop.asked_ns > 0
    assert client.status().stop_waits  # it has not said that it stopped
    client.close()


def test_what_was_asked_when_the_link_broke_is_answered_with_not_known(
    station: NetStation, known: KnownStation, cable: Cable
) -> None:
    client = remote(known, cable.place)
    until(lambda: joined(client))
    client.ask(ADJUST)
    station.requests.get(timeout=PATIENCE_S)
    cable.cut()
    (answer,) = until(client.take_answers)
    assert (answer.id, answer.done, answer.why) == (5, False, phrase("not_answered"))
    client.close()


def test_a_new_run_of_the_station_is_another_one(tmp_path: Path) -> None:
    first = NetStation(tmp_path / "station")
    known = first.pair()
    first.server.brief(briefing("run 1"))
    first.server.add_points(points(1, 9))
    first.server.publish(snapshot(900))
    client = remote(known, first.place)
    until(lambda: client.status().snapshot)
    first.close()
    until(lambda: client.status().state is LinkState.ENDED)
    assert client.status().why == "test over"
    client.stop()
    assert client.status().stop_waits
    second = NetStation(tmp_path / "station", port=first.place.port)
    second.server.brief(briefing("run 2"))
    second.server.add_points(points(1, 3))
    second.server.publish(snapshot(4))
    until(lambda: client.status().snapshot == snapshot(4))
    client.take_points()
    until(lambda: not client.status().stop_asked)
    assert client.status().why == phrase("stop_earlier")
    assert second.stops.empty()
    client.close()
    second.close()


def test_a_removed_console_is_sent_away_and_does_not_come_back(
    station: NetStation, known: KnownStation, tmp_path: Path
) -> None:
    client = remote(known, station.place)
    until(lambda: held(client))
    ConsoleList(tmp_path / "station").remove("front desk")
    until(lambda: (held(client), client.status().state is LinkState.REFUSED)[1])
    assert client.status().why in (phrase("removed"), phrase("unpaired"))
    until(lambda: client.status().why == phrase("unpaired"))
    assert station.server.consoles() == ()
    assert station.server.problems() == ()
    client.close()


def test_a_swapped_certificate_is_noticed_and_nothing_is_said_to_it(
    known: KnownStation, tmp_path: Path
) -> None:
    other = NetStation(tmp_path / "other", "room 1")
    cable = Cable(other.place)
    client = remote(known, cable.place)
    until(lambda: client.status().state is LinkState.REFUSED)
    assert client.status().why == phrase("swapped")
    assert b"front desk" not in cable.carried
    client.close()
    assert other.untouched()
    cable.close()
    other.close()


def test_the_right_station_is_found_behind_a_wrong_one(
    station: NetStation, known: KnownStation, tmp_path: Path
) -> None:
    """Two stations of one name, or one that says to be another: the certificate decides."""
    other = NetStation(tmp_path / "other", "room 1")
    client = remote(known, other.place, station.place)
    until(lambda: joined(client))
    until(lambda: station.server.consoles() == ("front desk",))
    assert other.server.consoles() == ()
    client.close()
    other.close()


def test_nothing_can_be_read_on_the_wire(
    station: NetStation, known: KnownStation, cable: Cable
) -> None:
    station.server.brief(briefing())
    client = remote(known, cable.place)
    until(lambda: joined(client))
    client.ask(ADJUST)
    station.requests.get(timeout=PATIENCE_S)
    client.close()
    for word in (b"front desk", b"adjust", b"hello", b"approach", b"GET /"):
        assert word not in cable.carried


def test_twenty_consoles_at_once(station: NetStation, known: KnownStation) -> None:
    station.server.brief(briefing())
    names = [f"desk {number}" for number in range(20)]
    clients = [remote(station.pair(name), station.place) for name in names]

    def all_take_part() -> bool:
        held_now = [held(client) for client in clients]
        return all(held_now) and station.server.consoles() == tuple(sorted(names))

    until(all_take_part)
    for client in clients:
        client.ask(WatchPictures(most_per_s=5))
    for number in range(1, 31):
        station.server.publish(snapshot(number))
        station.server.add_points(points(number, number))
    until(lambda: {held(c) and c.status().snapshot == snapshot(30) for c in clients} == {True})
    for client in clients:
        assert numbers_of(client, 30) == list(range(1, 31))
    until(lambda: station.server.wants_pictures() == 5)
    clients[7].stop()
    assert station.stops.get(timeout=PATIENCE_S)[1].name == "desk 7"
    for client in clients:
        client.close()
    assert station.server.problem() is None


def test_an_unpaired_one_is_told_nothing_however_long_it_waits(station: NetStation) -> None:
    station.server.brief(briefing())
    station.server.publish(snapshot(1))
    station.server.add_points(points(1, 50))
    with Raw(station.place) as connection:
        for number in range(10):
            station.server.publish(snapshot(number))
        with pytest.raises(TimeoutError):
            connection.recv(timeout=0.5)
        connection.send(encode(Hello(protocol=2, token="", role=Role.CONSOLE)))
        data = connection.recv(timeout=PATIENCE_S)
        assert isinstance(data, bytes)
        assert isinstance(msgspec.msgpack.decode(data, type=FromStation), Refused)
    assert station.untouched()


def test_the_port_for_screens_is_closed_to_the_network(station: NetStation) -> None:
    port = station.server.start()
    for address in own_addresses():
        if address != "127.0.0.1":
            with pytest.raises(OSError, match=r"refused|timed out"):
                socket.create_connection((address, port), 1.0)


def test_who_asks_is_the_paired_name_and_not_what_it_says(
    station: NetStation, known: KnownStation
) -> None:
    """A console that calls itself like another one cannot prove that one's key."""
    other = station.pair("office")
    forged = msgspec.structs.replace(other, called="front desk")
    client = remote(forged, station.place)
    until(lambda: client.status().state is LinkState.REFUSED)
    client.close()
    assert station.untouched()
    assert Asker(role="console", name="front desk").name == known.called
