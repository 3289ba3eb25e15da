"""A console is paired over real TLS: with the right station, by the right code, or not at all."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.link.consoles import ConsoleList
from feedback.link.dialling import pair_with
from feedback.link.phrases import phrase
from feedback.link.place import Place
from feedback.link.screenside import LinkState
from shared.problems import UserError
from tests.feedback.link.netting import NetStation, quiet_network, remote, until

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


def test_a_wrong_code_pairs_nobody_and_five_lock_it(station: NetStation) -> None:
    code = station.network.open_pairing()
    wrong = f"{(int(code) + 1) % 1_000_000:06d}"
    for _ in range(5):
        with pytest.raises(UserError) as caught:
            pair_with(station.place, wrong, "office")
        assert phrase("code").rstrip(".") in caught.value.problem.title
    assert station.network.pairing().locked
    with pytest.raises(UserError) as caught:
        pair_with(station.place, code, "office")
    assert caught.value.problem.code == "pairing_closed"
    assert pair_with(station.place, station.network.open_pairing(), "office").called == "office"


def test_a_console_behind_somebody_in_the_middle_is_not_paired(
    station: NetStation, tmp_path: Path
) -> None:
    """Whoever is in between must show another certificate; it is given even the right code."""
    middle = NetStation(tmp_path / "middle")
    code = station.network.open_pairing()
    middle.network._desk._code, middle.network._desk._opened_ns = code, time.monotonic_ns()
    console = pair_with(middle.place, code, "office")  # it is paired with the middle one alone
    client = remote(console, station.place)
    until(lambda: client.status().state is LinkState.REFUSED)
    assert client.status().why == phrase("swapped")
    client.close()
    middle.close()
    assert ConsoleList(tmp_path / "station").all() == ()


def test_nobody_answers_in_plain_words() -> None:
    with pytest.raises(UserError) as caught:
        pair_with(Place("127.0.0.1", 9), "123456", "office")
    assert caught.value.problem.code == "station_silent"
    assert "connection refused" in caught.value.problem.title
