"""Points reach charts without gaps, answers their asker alone, pictures those who look."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from queue import Queue
from typing import Any

import pytest

from feedback.link.client_state import LinkState
from feedback.link.local_client import LinkClient
from feedback.link.protocol import Asker
from feedback.link.server import LinkServer
from shared.changes import Answered, Note
from shared.flow import Side, View
from shared.messages import Briefing, Point, Request, Role
from shared.pictures import Picture, ReplayEnd, ReplayPicture, WatchPictures
from tests.feedback.link.examples import snapshot

PATIENCE_S = 10.0


def until(check: Callable[[], Any]) -> Any:
    deadline = time.monotonic() + PATIENCE_S
    while not (found := check()):
        assert time.monotonic() < deadline, "it never came to pass"
        time.sleep(0.005)
    return found


def points(first: int, last: int) -> tuple[Point, ...]:
    return tuple(
        Point(
            number=number,
            at_ns=number,
            step_number=number,
            name="strike_ahead",
            side=Side.LEFT,
            value=float(number),
            unit="cm",
            percent_leg=None,
            uncertainty=1.0,
            quality=0.9,
        )
        for number in range(first, last + 1)
    )


def picture(number: int) -> Picture:
    return Picture(
        captured_ns=number, width_px=4, height_px=3, jpeg=bytes(20_000), xy=(0.5, 0.5) * 33
    )


def briefing(run: str = "first") -> Briefing:
    return Briefing(
        run=run,
        code_name="Heron",
        view=View.SIDE,
        belt_speed_kmh=10.0,
        own=(),
        blocks=(),
        pain_stop_over=5,
    )


class Station:
    """A server that notes what is asked."""

    def __init__(self) -> None:
        self.asked: Queue[tuple[Request, Asker]] = Queue()
        self.server = LinkServer(
            lambda _stop, _asker: None,
            lambda _asker: None,
            lambda request, asker: self.asked.put((request, asker)),
        )
        self.port = self.server.start()
        self.clients: list[LinkClient] = []

    def client(self, role: Role = Role.PANEL) -> LinkClient:
        client = LinkClient(self.port, self.server.issue_token(role), role)
        self.clients.append(client)
        client.start()
        until(lambda: client.status().state is LinkState.JOINED)
        return client

    def close(self) -> None:
        self.server.close("test over")
        for client in self.clients:
            client.close()


@pytest.fixture
def station() -> Iterator[Station]:
    built = Station()
    built.server.brief(briefing())
    yield built
    built.close()


def gathered(client: LinkClient, count: int) -> list[int]:
    found: list[int] = []

    def all_there() -> bool:
        found.extend(point.number for point in client.take_points())
        return len(found) >= count

    until(all_there)
    return found


def test_a_panel_that_joins_late_gets_the_briefing_and_all_points(station: Station) -> None:
    station.server.add_points(points(1, 2500))
    client = station.client()
    assert gathered(client, 2500) == list(range(1, 2501))
    assert client.status().briefing == briefing()
    station.server.add_points(points(2501, 2503))
    assert gathered(client, 3) == [2501, 2502, 2503]


def test_the_runners_screen_gets_no_points(station: Station) -> None:
    station.server.add_points(points(1, 10))
    client = station.client(Role.RUNNER)
    station.server.publish(snapshot(1))
    until(lambda: client.status().snapshot)
    assert client.take_points() == ()


def test_an_answer_goes_to_its_asker_alone(station: Station) -> None:
    first, second = station.client(), station.client()
    first.ask(Note(id=5, text="a note"))
    request, asker = station.asked.get(timeout=PATIENCE_S)
    assert (request, asker.role) == (Note(id=5, text="a note"), Role.PANEL)
    station.server.answer(asker.connection, Answered(id=5, done=True))
    assert until(first.take_answers) == (Answered(id=5, done=True),)
    station.server.publish(snapshot(9))
    until(lambda: second.status().snapshot)
    assert second.take_answers() == ()


def test_pictures_go_only_to_those_who_look(station: Station) -> None:
    looks, does_not = station.client(), station.client()
    assert station.server.wants_pictures() == 0
    looks.ask(WatchPictures(most_per_s=12))
    until(lambda: station.server.wants_pictures() == 12)
    station.server.show(picture(7))
    shown = until(lambda: looks.status().picture)
    assert shown == picture(7)
    station.server.publish(snapshot(9))
    until(lambda: does_not.status().snapshot)
    assert does_not.status().picture is None
    looks.ask(WatchPictures(most_per_s=0))
    until(lambda: station.server.wants_pictures() == 0)


def test_nobody_wants_pictures_once_the_one_who_looked_has_gone(station: Station) -> None:
    looks = station.client()
    looks.ask(WatchPictures(most_per_s=12))
    until(lambda: station.server.wants_pictures() == 12)
    looks.close()
    until(lambda: station.server.wants_pictures() == 0)


def test_a_replay_comes_in_order_and_snapshots_come_between(station: Station) -> None:
    client = station.client()
    client.ask(Note(id=1, text="who am I"))
    _, asker = station.asked.get(timeout=PATIENCE_S)
    count = 200

    def replay() -> Iterator[ReplayPicture | ReplayEnd]:
        for number in range(count):
            yield ReplayPicture(id=2, number=number, count=count, picture=picture(number))
            if number == count // 2:
                station.server.publish(snapshot(77))
        yield ReplayEnd(id=2, count=count, marks=())

    station.server.answer(asker.connection, replay())
    found: list[ReplayPicture | ReplayEnd] = []

    def all_there() -> bool:
        found.extend(client.take_replay())
        return len(found) > count

    until(all_there)
    assert [part.number for part in found if isinstance(part, ReplayPicture)] == list(range(count))
    assert isinstance(found[-1], ReplayEnd)
    shown = client.status().snapshot
    assert shown is not None
    assert shown.number == 77
