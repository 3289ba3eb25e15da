"""The socket to the network takes no more than the station can bear."""

from __future__ import annotations

import socket

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.link.listening import (
    BURST,
    BURST_FROM_ONE,
    MOST_OPEN,
    MOST_OPEN_FROM_ONE,
    PER_SECOND,
    Admission,
    listen,
)
from shared.clock_units import NS_PER_S
from shared.problems import UserError


def test_one_address_cannot_take_all_places() -> None:
    admission = Admission(0)
    came = sum(admission.enter("192.0.2.1", number * NS_PER_S) for number in range(MOST_OPEN))
    assert came == MOST_OPEN_FROM_ONE
    assert admission.enter("192.0.2.2", 100 * NS_PER_S)
    admission.leave("192.0.2.1")
    assert admission.enter("192.0.2.1", 101 * NS_PER_S)


def test_one_address_cannot_keep_the_station_busy_with_handshakes() -> None:
    admission = Admission(0)
    came = 0
    for _ in range(1000):
        if admission.enter("192.0.2.1", 1):
            came += 1
            admission.leave("192.0.2.1")
    assert came == BURST_FROM_ONE
    assert admission.open() == 0
    assert admission.enter("192.0.2.2", 1)


def test_many_addresses_together_cannot_either() -> None:
    admission = Admission(0)
    came = 0
    for number in range(5000):
        address = f"2001:db8::{number:x}"
        if admission.enter(address, 1):
            came += 1
            admission.leave(address)
    assert came == BURST
    later = sum(admission.enter(f"2001:db8:1::{n:x}", NS_PER_S) for n in range(1000))
    assert later <= PER_SECOND + 1
    assert len(admission._buckets) <= 256


@given(
    st.lists(st.tuples(st.booleans(), st.sampled_from("abc"), st.integers(0, NS_PER_S // 4))),
)
def test_what_is_open_is_counted_right(events: list[tuple[bool, str, int]]) -> None:
    admission, at_ns, held = Admission(0), 0, {"a": 0, "b": 0, "c": 0}
    for comes, address, wait_ns in events:
        at_ns += wait_ns
        if comes:
            held[address] += admission.enter(address, at_ns)
        elif held[address]:
            admission.leave(address)
            held[address] -= 1
        assert admission.open() == sum(held.values()) <= MOST_OPEN
        assert max(held.values()) <= MOST_OPEN_FROM_ONE


def test_connections_are_counted_while_they_are_open() -> None:
    with listen(0) as listening, socket.create_connection(listening.getsockname()[:2]) as near:
        listening.setblocking(True)
        connection, _ = listening.accept()
        assert listening.admission.open() == 1
        connection.close()
        connection.close()
        assert listening.admission.open() == 0
        near.close()


def test_one_too_many_is_closed_at_once() -> None:
    with listen(0) as listening:
        listening.setblocking(True)
        listening.admission._all.left = listening.admission._all.burst = 0
        with socket.create_connection(listening.getsockname()[:2]) as near:
            with pytest.raises(ConnectionAbortedError):
                listening.accept()
            near.settimeout(5)
            assert near.recv(1) == b""


def test_a_port_that_was_asked_for_and_is_in_use_is_a_problem_in_plain_words() -> None:
    with listen(0) as first:
        port = first.getsockname()[1]
        with pytest.raises(UserError) as caught:
            listen(port)
        assert caught.value.problem.code == "network_failed"
        assert f"port {port}" in caught.value.problem.title


def test_the_usual_port_gives_way_to_any_other() -> None:
    with listen(None) as first, listen(None) as second:
        assert first.getsockname()[1] != second.getsockname()[1]
