"""Paired consoles and known stations are kept, listed, removed; secrets stay with their owner."""

from __future__ import annotations

import os
import stat
import sys
from pathlib import Path

import msgspec
import pytest

from feedback.link.consoles import ConsoleList, KnownStation, StationList
from feedback.link.pairing import Paired, public_key_of
from shared.problems import UserError

ON = "2026-05-04T10:00:00+02:00"


def paired(name: str = "front desk") -> Paired:
    return Paired(name, public_key_of(os.urandom(32)))


def station(name: str = "room 1", digit: str = "a") -> KnownStation:
    return KnownStation(
        name=name,
        fingerprint=digit * 64,
        certificate=b"der",
        called="front desk",
        seed=os.urandom(32),
        host="192.0.2.7",
        port=4000,
    )


def test_consoles_are_kept_by_name_and_removed(tmp_path: Path) -> None:
    here = ConsoleList(tmp_path / "link")
    one, two = paired("office"), paired("front desk")
    assert here.all() == ()
    assert [here.add(one, ON), here.add(two, ON)] == ["office", "front desk"]
    assert [console.name for console in here.all()] == ["front desk", "office"]
    assert here.key_of("office") == one.public_key
    here.remove("office")
    assert here.key_of("office") is None
    assert here.key_of("front desk") == two.public_key


def test_a_second_console_of_a_name_gets_a_number_and_takes_nothing_away(tmp_path: Path) -> None:
    here = ConsoleList(tmp_path)
    first, second, long = paired(), paired(), paired("x" * 40)
    assert here.add(first, ON) == "front desk"
    assert here.add(second, ON) == "front desk 2"
    assert here.add(paired(), ON) == "front desk 3"
    assert here.key_of("front desk") == first.public_key
    here.add(long, ON)
    assert len(here.add(long, ON)) <= 40
    assert len(ConsoleList(tmp_path).all()) == 5


def test_another_process_sees_a_removal_at_once(tmp_path: Path) -> None:
    here, there = ConsoleList(tmp_path), ConsoleList(tmp_path)
    here.add(paired(), ON)
    assert there.key_of("front desk") is not None
    here.remove("front desk")
    assert there.key_of("front desk") is None


def test_removing_one_that_is_not_there_names_those_that_are(tmp_path: Path) -> None:
    here = ConsoleList(tmp_path)
    here.add(paired("office"), ON)
    with pytest.raises(UserError) as caught:
        here.remove("offise")
    assert caught.value.problem.code == "console_unknown"
    assert "office" in caught.value.problem.action


def test_the_stations_file_holds_no_secret_of_a_console(tmp_path: Path) -> None:
    seed = os.urandom(32)
    here = ConsoleList(tmp_path)
    here.add(Paired("desk", public_key_of(seed)), ON)
    (file,) = tmp_path.iterdir()
    (kept,) = msgspec.json.decode(file.read_bytes())
    assert set(kept) == {"name", "public_key", "paired_on"}
    assert seed not in msgspec.convert(kept["public_key"], bytes, strict=False)


def test_files_are_their_owners_alone(tmp_path: Path) -> None:
    folder = tmp_path / "link"
    ConsoleList(folder).add(paired(), ON)
    StationList(folder).keep(station())
    if sys.platform != "win32":
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert {stat.S_IMODE(file.stat().st_mode) for file in folder.iterdir()} == {0o600}


def test_stations_are_kept_by_certificate_so_that_two_may_have_one_name(tmp_path: Path) -> None:
    here = StationList(tmp_path)
    one, two = station(digit="a"), station(digit="b")
    here.keep(two)
    here.keep(one)
    assert here.all() == (one, two)
    moved = msgspec.structs.replace(one, host="192.0.2.9")
    here.keep(moved)
    assert StationList(tmp_path).find(one.fingerprint) == moved
    here.remove(one.fingerprint)
    assert here.find(one.fingerprint) is None
    assert here.all() == (two,)


@pytest.mark.parametrize("text", [b"{", b"[1]", b'[{"name": "\\u001b[2J"}]', b"\xff\xfe"])
def test_a_damaged_file_is_told_in_plain_words_and_lets_nobody_in(
    tmp_path: Path, text: bytes
) -> None:
    (tmp_path / "consoles.json").write_bytes(text)
    with pytest.raises(UserError) as caught:
        ConsoleList(tmp_path).key_of("desk")
    assert caught.value.problem.code == "file_unreadable"
