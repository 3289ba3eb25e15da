"""The socket to the network takes no more than the station can bear."""

from __future__ import annotations

import socket

import pytest

from feedback.link.quota import MOST_UNPROVED_FROM_ONE, UNPROVED_BYTES
from feedback.link.rate_limit import listen
from shared.problems import UserError


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


def test_the_oldest_of_a_crowd_is_ended_for_the_new_one() -> None:
    with listen(0) as listening:
        listening.setblocking(True)
        ends, taken = [], []
        for _ in range(MOST_UNPROVED_FROM_ONE + 1):
            ends.append(socket.create_connection(listening.getsockname()[:2]))
            taken.append(listening.accept()[0])
        ends[0].settimeout(5)
        assert ends[0].recv(1) == b""
        ends[1].settimeout(0.2)
        with pytest.raises(TimeoutError):
            ends[1].recv(1)
        for one in (*ends, *taken):
            one.close()
        assert listening.admission.open() == 0


def test_what_is_over_its_share_is_not_even_looked_at() -> None:
    with listen(0) as listening, socket.create_connection(listening.getsockname()[:2]) as near:
        listening.setblocking(True)
        connection, _ = listening.accept()
        connection.setblocking(True)
        near.sendall(bytes(UNPROVED_BYTES + 1))
        connection.recv_into(bytearray(UNPROVED_BYTES))
        with pytest.raises(ConnectionAbortedError):
            connection.recv_into(bytearray(UNPROVED_BYTES))
        connection.close()


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
