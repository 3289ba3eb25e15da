"""The station's socket to the network: it takes no more connections than it can bear."""

from __future__ import annotations

import os
import socket
import threading
from collections import OrderedDict
from dataclasses import dataclass
from typing import Any, Final

from feedback.link.place import DEFAULT_PORT
from shared.clock import now_ns
from shared.clock_units import NS_PER_S
from shared.problems import UserError

MOST_OPEN: Final = 64
MOST_OPEN_FROM_ONE: Final = 32
PER_SECOND: Final = 40.0
PER_SECOND_FROM_ONE: Final = 10.0
BURST: Final = 60.0
BURST_FROM_ONE: Final = 30.0
_MOST_ADDRESSES: Final = 256
_BACKLOG: Final = 64


@dataclass(slots=True)
class Bucket:
    """Lets so many through at once and so many a second; a handshake costs the session time."""

    burst: float
    per_second: float
    left: float
    at_ns: int

    def take(self, at_ns: int) -> bool:
        """Whether one more may come."""
        gained = (at_ns - self.at_ns) / NS_PER_S * self.per_second
        self.left = min(self.burst, self.left + gained)
        self.at_ns = at_ns
        if self.left < 1:
            return False
        self.left -= 1
        return True


class Admission:
    """Counts the connections that are open and those that came, in all and by address."""

    def __init__(self, at_ns: int) -> None:
        self._lock = threading.Lock()
        self._all = Bucket(BURST, PER_SECOND, BURST, at_ns)
        self._buckets: OrderedDict[str, Bucket] = OrderedDict()
        self._open: dict[str, int] = {}

    def enter(self, address: str, at_ns: int) -> bool:
        """Whether a connection from there may be taken now; it then counts as open."""
        with self._lock:
            bucket = self._buckets.get(address)
            if bucket is None:
                bucket = Bucket(BURST_FROM_ONE, PER_SECOND_FROM_ONE, BURST_FROM_ONE, at_ns)
                self._buckets[address] = bucket
                if len(self._buckets) > _MOST_ADDRESSES:
                    self._buckets.popitem(last=False)
            self._buckets.move_to_end(address)
            here = self._open.get(address, 0)
            room = sum(self._open.values()) < MOST_OPEN and here < MOST_OPEN_FROM_ONE
            if not (room and bucket.take(at_ns) and self._all.take(at_ns)):
                return False
            self._open[address] = here + 1
            return True

    def leave(self, address: str) -> None:
        """A connection from there has ended."""
        with self._lock:
            here = self._open.get(address, 0) - 1
            if here > 0:
                self._open[address] = here
            else:
                self._open.pop(address, None)

    def open(self) -> int:
        """How many are open."""
        with self._lock:
            return sum(self._open.values())


class _Counted(socket.socket):
    """A connection that says so when it ends."""

    admission: Admission
    address: str
    ended = False

    def close(self) -> None:
        if not self.ended:
            self.ended = True
            self.admission.leave(self.address)
        super().close()


class Listening(socket.socket):
    """A listening socket that turns away at once what :class:`Admission` does not let in.

    asyncio takes a turned-away connection for one that was gone before it could be taken.
    """

    admission: Admission

    def accept(self) -> tuple[socket.socket, Any]:
        """The next connection. Raises ConnectionAbortedError for one that was turned away."""
        descriptor, address = self._accept()  # type: ignore[attr-defined]
        connection = _Counted(self.family, self.type, self.proto, fileno=descriptor)
        connection.admission, connection.address = self.admission, address[0]
        if not self.admission.enter(address[0], now_ns()):
            connection.ended = True
            connection.close()
            raise ConnectionAbortedError("turned away")
        connection.setblocking(False)
        return connection, address


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
    why = failure.strerror or str(failure)
    raise UserError("network_failed", str(failure), why=f"port {wanted[0]}: {why}") from failure


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
    return listening
