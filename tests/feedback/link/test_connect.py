"""A console is paired over real TLS: with the right station, by the right code, or not at all."""

from __future__ import annotations

import socket
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.link import connect as dialling
from feedback.link.address import Address
from feedback.link.client_state import LinkState
from feedback.link.connect import pair_with
from feedback.link.consoles import ConsoleList
from feedback.link.pairing import MOST_TRIES, MOST_TRIES_FROM_ONE
from feedback.texts.network import phrase
from shared.problems import UserError
from tests.feedback.link.netting import NearNetwork, NetStation, quiet_network, remote, until

__all__ = ["quiet_network"]
pytestmark = pytest.mark.usefixtures("quiet_network")


@pytest.fixture
def station(tmp_path: Path) -> Iterator[NetStation]:
    built = NetStation(tmp_path / "station")
    yield built
    built.close()


def test_pairing_only_lets_nobody_take_part(tmp_path: Path) -> None:
    built = NetStation(tmp_path / "station", only_pairs=True)
    client = remote(built.pair(), built.place)
    until(lambda: client.status().state is LinkState.REFUSED)
    assert client.status().why == phrase("no_session")
    client.close()
    built.close()


def call_from(address: str, patch: pytest.MonkeyPatch) -> None:
    """Calls come from there: all of 127.0.0.0/8 is this computer."""

    async def reach(place: Address) -> socket.socket:
        near = socket.create_connection(place, source_address=(address, 0))
        near.setblocking(False)
        return near

    patch.setattr(dialling, "reach", reach)


def test_a_wrong_code_pairs_nobody_and_five_lock_it(
    station: NetStation, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = station.network.open_pairing()
    wrong = f"{(int(code) + 1) % 1_000_000:06d}"
    for _ in range(MOST_TRIES_FROM_ONE):
        with pytest.raises(UserError) as caught:
            pair_with(station.place, wrong, "office")
        assert phrase("code").rstrip(".") in caught.value.problem.title
    with pytest.raises(UserError) as caught:  # one computer alone cannot use a code up
        pair_with(station.place, code, "office")
    assert phrase("pairing_too_often").rstrip(".") in caught.value.problem.title
    until(lambda: station.network.pairing().tries_left == MOST_TRIES - MOST_TRIES_FROM_ONE)
    call_from("127.0.0.2", monkeypatch)
    for _ in range(MOST_TRIES - MOST_TRIES_FROM_ONE):
        with pytest.raises(UserError) as caught:
            pair_with(station.place, wrong, "office")
        assert phrase("code").rstrip(".") in caught.value.problem.title
    standing = until(lambda: station.network.pairing().locked and station.network.pairing())
    assert {attempt.address for attempt in standing.attempts} == {"127.0.0.1", "127.0.0.2"}
    assert {attempt.name for attempt in standing.attempts} == {"office"}
    (problem,) = station.server.problems()  # the person at the station is told by whom
    assert problem.code == "pairing_locked"
    assert '"office" at 127.0.0.1 (3 times); "office" at 127.0.0.2 (2 times)' in problem.title
    with pytest.raises(UserError) as caught:
        pair_with(station.place, code, "office")
    assert caught.value.problem.code == "pairing_closed"
    assert pair_with(station.place, station.network.open_pairing(), "office").called == "office"


def test_a_person_may_let_one_address_alone_try(
    station: NetStation, monkeypatch: pytest.MonkeyPatch
) -> None:
    code = station.network.open_pairing(only_from="127.0.0.1")
    wrong = f"{(int(code) + 1) % 1_000_000:06d}"
    call_from("127.0.0.2", monkeypatch)
    for _ in range(2 * MOST_TRIES):
        with pytest.raises(UserError) as caught:
            pair_with(station.place, wrong, "nobody")
        assert phrase("pairing_elsewhere").rstrip(".") in caught.value.problem.title
    assert station.network.pairing().tries_left == MOST_TRIES
    call_from("127.0.0.1", monkeypatch)
    assert pair_with(station.place, code, "office").called == "office"


def test_a_console_behind_somebody_in_the_middle_is_not_paired(
    station: NetStation, tmp_path: Path
) -> None:
    """Whoever is in between must show another certificate; it is given even the right code."""
    middle = NetStation(tmp_path / "middle", near=True)
    code = station.network.open_pairing()
    assert isinstance(middle.network, NearNetwork)
    desk = middle.network.gateway.desk
    desk._code, desk._opened_ns = code, time.monotonic_ns()
    console = pair_with(middle.place, code, "office")  # it is paired with the middle one alone
    client = remote(console, station.place)
    until(lambda: client.status().state is LinkState.REFUSED)
    assert client.status().why == phrase("swapped")
    client.close()
    middle.close()
    assert ConsoleList(tmp_path / "station").all() == ()


def test_nobody_answers_in_plain_words() -> None:
    with pytest.raises(UserError) as caught:
        pair_with(Address("127.0.0.1", 9), "123456", "office")
    assert caught.value.problem.code == "station_silent"
    assert "connection refused" in caught.value.problem.title
