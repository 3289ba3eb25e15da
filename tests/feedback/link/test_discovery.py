"""What is announced says nothing about anybody, and what is found is not trusted."""

from __future__ import annotations

from ipaddress import IPv4Network
from pathlib import Path

import pytest
from zeroconf import ServiceInfo

from feedback.link.address import Address
from feedback.link.certificate import grouped
from feedback.link.consoles import KnownStation, StationList
from feedback.link.directory import Directory
from feedback.link.discovery import SERVICE, Announcer, _label
from feedback.link.finding import found_in
from feedback.link.sightings import FoundStation
from shared.messages import PROTOCOL

FINGERPRINT = "0123456789abcdef" * 4


def info(port: int = 4001, said: dict[str, bytes] | None = None) -> ServiceInfo:
    properties = {"v": str(PROTOCOL).encode(), "fp": FINGERPRINT[:16].encode(), **(said or {})}
    return ServiceInfo(
        SERVICE,
        f"room 1.{SERVICE}",
        port=port,
        properties=properties,
        server="x.local.",
        parsed_addresses=["192.0.2.7", "192.0.2.8"],
    )


def test_what_is_said_is_read() -> None:
    assert found_in(info(), f"room 1.{SERVICE}") == FoundStation(
        "room 1", FINGERPRINT[:16], PROTOCOL, ("192.0.2.7", "192.0.2.8"), 4001
    )


@pytest.mark.parametrize(
    ("said", "prefix", "protocol"),
    [
        ({"fp": b"\xff\xfe"}, "", PROTOCOL),
        ({"fp": b"not hexadecimal"}, "", PROTOCOL),
        ({"fp": b"ab" * 100}, "ab" * 8, PROTOCOL),
        ({"v": b"two"}, FINGERPRINT[:16], 0),
        ({"v": b"9" * 200}, FINGERPRINT[:16], 0),
        ({"fp": b"", "v": b""}, "", 0),
    ],
)
def test_nonsense_is_made_harmless(said: dict[str, bytes], prefix: str, protocol: int) -> None:
    found = found_in(info(said=said), f"room 1.{SERVICE}")
    assert found is not None
    assert (found.prefix, found.protocol) == (prefix, protocol)


def test_a_name_cannot_steer_the_terminal_it_is_shown_in() -> None:
    found = found_in(info(), f"room\x1b[2J\u202e 1.{SERVICE}")
    assert found is not None
    assert found.name == "room\ufffd[2J 1"


def test_an_announcement_makes_nobody_call_out_into_the_world() -> None:
    outside = ["8.8.8.8", "224.0.0.251", "255.255.255.255", "0.0.0.1"]
    name = f"room 1.{SERVICE}"
    said = ServiceInfo(
        SERVICE,
        name,
        port=4001,
        properties={"v": str(PROTOCOL).encode()},
        server="x.local.",
        parsed_addresses=[*outside, "10.0.0.7", "169.254.3.4"],
    )
    found = found_in(said, name)
    assert found is not None
    assert set(found.hosts) == {"10.0.0.7", "169.254.3.4"}
    # Some networks have public addresses within.
    found = found_in(said, name, (IPv4Network("8.8.8.0/24"),))
    assert found is not None
    assert found.hosts[0] == "8.8.8.8"
    assert set(found.hosts) == {"8.8.8.8", "10.0.0.7", "169.254.3.4"}


def test_without_port_or_answer_there_is_no_station() -> None:
    assert found_in(None, f"room 1.{SERVICE}") is None
    assert found_in(info(port=0), f"room 1.{SERVICE}") is None


@pytest.mark.parametrize("name", ["room 1", "x" * 200, "Ü" * 60, "", "\x00\n", "a.b"])
def test_any_name_fits_into_a_label(name: str) -> None:
    label = _label(name)
    assert 0 < len(label.encode()) <= 63
    assert label.isprintable()


def test_an_announcer_that_never_began_is_closed_at_once() -> None:
    announcer = Announcer("room 1", FINGERPRINT, 4001)
    announcer.close()
    assert announcer.problem() is None


def test_a_station_is_called_where_it_was_met_then_where_it_announces_itself(
    tmp_path: Path,
) -> None:
    known = KnownStation(
        name="room 1",
        fingerprint=FINGERPRINT,
        certificate=b"der",
        called="desk",
        seed=bytes(32),
        host="192.0.2.9",
        port=5000,
    )
    StationList(tmp_path).keep(known)
    directory = Directory(tmp_path, look=False)
    assert directory.places(known) == (Address("192.0.2.9", 5000),)
    assert not directory.is_there(known)

    class Found:
        def found(self) -> tuple[FoundStation, ...]:
            other = FoundStation("room 1", "f" * 16, 2, ("192.0.2.1",), 1)
            nameless = FoundStation("room 1", "", 2, ("192.0.2.2",), 2)
            same = FoundStation("elsewhere", FINGERPRINT[:16], 2, ("192.0.2.7", "192.0.2.9"), 5001)
            return other, nameless, same

        def want(self, homes: object) -> None:
            pass

        def search(self) -> None:
            pass

        def close(self) -> None:
            pass

    directory._finder = Found()  # type: ignore[assignment]
    assert directory.places(known) == (
        Address("192.0.2.9", 5000),
        Address("192.0.2.9", 5001),  # at the same computer
        Address("192.0.2.7", 5001),
    )
    assert directory.is_there(known)
    assert [found.prefix for found in directory.unknown()] == ["f" * 16, ""]
    directory.forget(known)
    assert directory.known() == ()
    assert grouped(FINGERPRINT) == "0123 4567 89ab cdef"
    directory.close()
