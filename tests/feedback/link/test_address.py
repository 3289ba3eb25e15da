"""Addresses as they are typed."""

from __future__ import annotations

import pytest

from feedback.link.address import DEFAULT_PORT, Address, place_of


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("192.168.1.7", Address("192.168.1.7", DEFAULT_PORT)),
        (" room-2.local:4000 ", Address("room-2.local", 4000)),
        ("fe80::1", Address("fe80::1", DEFAULT_PORT)),
        ("[fe80::1]:4000", Address("fe80::1", 4000)),
        ("[fe80::1]", Address("fe80::1", DEFAULT_PORT)),
        ("", None),
        (":4000", None),
        ("host:port", None),
        ("host:0", None),
        ("host:70000", None),
        ("two words", None),
    ],
)
def test_what_is_typed_is_a_place_or_none(text: str, place: Address | None) -> None:
    assert place_of(text) == place


def test_a_place_is_written_as_it_is_typed() -> None:
    for place in (Address("192.168.1.7", 4000), Address("fe80::1", 4000)):
        assert place_of(str(place)) == place
