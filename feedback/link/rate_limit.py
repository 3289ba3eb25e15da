"""The gateway's socket to the network: it takes no more connections and bytes than it can bear."""

from __future__ import annotations

import contextlib
import os
import socket
from typing import Any, Final
from weakref import WeakValueDictionary

from feedback.link.address import DEFAULT_PORT
from feedback.link.quota import Admission, Peer, Quota
from shared.clock import now_ns
from shared.language import told
from shared.problems import UserError, reason_of

_BACKLOG: Final = 64


class Connection(socket.socket):
    """A connection that counts what it takes, before anybody looks at it, and says when it ends."""

    listening: Listening
    peer: Peer
    quota: Quota
    ended = False

    def recv(self, *wanted: Any) -> bytes:
        """As a socket's. Raises ConnectionAbortedError for more than its share."""
        data = super().recv(*wanted)
        self._count(len(data))
        return data

    def recv_into(self, *wanted: Any) -> int:
        """As a socket's. Raises ConnectionAbortedError for more than its share."""
        count = super().recv_into(*wanted)
        self._count(count)
        return count

    def _count(self, count: int) -> None:
        if not self.quota.take_bytes(count, now_ns()):
            raise ConnectionAbortedError("more than its share")

    def give_way(self) -> None:
        """End it, for whoever reads from it, without waiting for the other end."""
        self.ended = True
        with contextlib.suppress(OSError):
            self.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        """As a socket's, counted once."""
        if not self.ended:
            self.ended = True
            self.listening.admission.leave(self.peer)
        super().close()


class Listening(socket.socket):
    """A listening socket that turns away at once what :class:`Admission` does not let in.

    asyncio takes a turned-away connection for one that was gone before it could be taken.
    """

    admission: Admission
    taken: WeakValueDictionary[Peer, Connection]

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection. Raises ConnectionAbortedError for one that was turned away."""
        descriptor, address = self._accept()  # type: ignore[attr-defined]
        connection = Connection(self.family, self.type, self.proto, fileno=descriptor)
        connection.listening, connection.peer = self, peer_of(address)
        entry = self.admission.enter(connection.peer, now_ns())
        if not entry.admitted:
            connection.ended = True
            connection.close()
            raise ConnectionAbortedError("turned away")
        if entry.gives_way is not None and (older := self.taken.get(entry.gives_way)) is not None:
            older.give_way()
        connection.quota = Quota(now_ns())
        self.taken[connection.peer] = connection
        connection.setblocking(False)
        return connection, address

    def quota_of(self, peer: Peer) -> Quota | None:
        """What the connection from there may send; None where it has gone."""
        connection = self.taken.get(peer)
        return None if connection is None else connection.quota


def peer_of(address: Any) -> Peer:
    """Address and port, of an address as sockets of either kind tell it."""
    return str(address[0]), int(address[1])


def listen(port: int | None) -> Listening:
    """A socket on all interfaces, IPv6 and IPv4 where the system has both.

    ``port`` None: the usual one, or any free one where that is in use. Raises UserError
    ``network_failed``.
    """
    wanted = (port,) if port is not None else (DEFAULT_PORT, 0)
    for number in wanted:
        try:
            return _listen(number)
        except OSError as error:
            failure = error
    why = reason_of(failure)
    raise UserError(
        "network_failed", str(failure), why=told("port {wanted}: {why}", wanted=wanted[0], why=why)
    ) from failure


def _listen(port: int) -> Listening:
    both = socket.has_dualstack_ipv6()
    listening = Listening(socket.AF_INET6 if both else socket.AF_INET, socket.SOCK_STREAM)
    try:
        if both:
            listening.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, 0)
        if os.name == "posix":  # elsewhere it would let two programs have one port
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(("::" if both else "0.0.0.0", port))  # noqa: S104 - the network is the point
        listening.listen(_BACKLOG)
        listening.setblocking(False)
    except OSError:
        listening.close()
        raise
    listening.admission = Admission(now_ns())
    listening.taken = WeakValueDictionary()
    return listening
