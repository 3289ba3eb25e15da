"""A stranger on the network who does one thing as hard as it can; for tests.bench.bench_floods.

Run: python -m tests.bench.flooder KIND HOST PORT SECONDS [STATION], with 64 connections at once; it
speaks plain sockets and TLS, so that it can do what no client of ours would. STATION is a file with
the pairing that the kind "replays" uses. It ends by itself after SECONDS.
"""

from __future__ import annotations

import asyncio
import base64
import contextlib
import os
import socket
import ssl
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import msgspec

from feedback.link.address import Address
from feedback.link.certificate import client_context
from feedback.link.connect import approach, dial
from feedback.link.consoles import KnownStation
from feedback.link.protocol import encode
from shared.messages import PROTOCOL, Hello, Ping, Role
from shared.pictures import AskReplay, WatchPictures

CONNECTIONS: Final = 64
STRANGER: Final = "127.0.0.66"
_PATIENCE_S: Final = 10.0
_CHUNK_FRAMES: Final = 4000


def masked(opcode: int, *, fin: bool) -> bytes:
    """An empty frame of a client (RFC 6455, section 5.2)."""
    return bytes([(0x80 if fin else 0) | opcode, 0x80]) + os.urandom(4)


PINGS: Final = b"".join(masked(0x9, fin=True) for _ in range(_CHUNK_FRAMES))
EMPTY_FRAGMENTS: Final = b"".join(masked(0x0, fin=False) for _ in range(_CHUNK_FRAMES))


class Flood:
    """Where to, and until when."""

    def __init__(self, host: str, port: int, seconds: float) -> None:
        self.place = (host, port)
        self.until = time.monotonic() + seconds
        self.tls = client_context(None)

    def goes_on(self) -> bool:
        return time.monotonic() < self.until

    def connect(self) -> socket.socket:
        # All of 127.0.0.0/8 is this computer: a stranger is not where the consoles are.
        source = (STRANGER, 0) if self.place[0].startswith("127.") else None
        return socket.create_connection(self.place, _PATIENCE_S, source_address=source)

    def websocket(self) -> ssl.SSLSocket:
        """A connection that has been taken for a WebSocket."""
        secured = self.tls.wrap_socket(self.connect(), server_hostname="station.beltside")
        key = base64.b64encode(os.urandom(16)).decode()
        secured.sendall(
            f"GET / HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n"
            f"Sec-WebSocket-Key: {key}\r\nSec-WebSocket-Version: 13\r\n\r\n".encode()
        )
        secured.recv(4096)
        return secured

    def pings(self) -> None:
        with self.websocket() as connection:
            while self.goes_on():
                connection.sendall(PINGS)

    def fragments(self) -> None:
        with self.websocket() as connection:
            connection.sendall(masked(0x2, fin=False))
            while self.goes_on():
                connection.sendall(EMPTY_FRAGMENTS)

    def connections(self) -> None:
        self.connect().close()

    def handshakes(self) -> None:
        with self.tls.wrap_socket(self.connect(), server_hostname="station.beltside"):
            pass

    def slow(self) -> None:
        with self.connect() as connection:
            while self.goes_on():
                connection.sendall(b"\x16")
                time.sleep(0.1)

    def silent(self) -> None:
        with self.connect() as connection:
            connection.settimeout(1.0)
            while self.goes_on():
                with contextlib.suppress(TimeoutError):
                    if not connection.recv(1):
                        return

    def again_and_again(self, once: Callable[[], None]) -> None:
        while self.goes_on():
            try:
                once()
            except OSError:
                time.sleep(0.01)  # turned away


async def replays(host: str, port: int, seconds: float, station: KnownStation) -> None:
    """A paired console that asks for a replay as often as it may, and for all pictures."""
    until = time.monotonic() + seconds
    number = 0
    while time.monotonic() < until:
        with contextlib.suppress(Exception):
            connection = await dial(Address(host, port), station.certificate)
            await approach(connection, station)
            await connection.send(encode(Hello(protocol=PROTOCOL, token="", role=Role.CONSOLE)))
            await connection.send(encode(WatchPictures(most_per_s=30)))

            async def read(connection: object = connection) -> None:
                async for _ in connection:  # type: ignore[attr-defined]
                    pass

            reading = asyncio.create_task(read())
            while time.monotonic() < until and not reading.done():
                number += 1
                await connection.send(encode(AskReplay(id=number, seconds=20.0)))
                await connection.send(encode(Ping(at_ns=number)))
                await asyncio.sleep(0.05)
        await asyncio.sleep(0.1)


def main() -> None:
    """Flood."""
    if sys.platform == "linux":
        # A stranger elsewhere takes no processor time here: only what is left, on the first one.
        os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
        os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
    kind, host, port, seconds = sys.argv[1], sys.argv[2], int(sys.argv[3]), float(sys.argv[4])
    if kind == "replays":
        station = msgspec.json.decode(Path(sys.argv[5]).read_bytes(), type=KnownStation)
        asyncio.run(replays(host, port, seconds, station))
        return
    flood = Flood(host, port, seconds)
    threads = [
        threading.Thread(target=flood.again_and_again, args=(getattr(flood, kind),), daemon=True)
        for _ in range(CONNECTIONS)
    ]
    for thread in threads:
        thread.start()
    time.sleep(seconds)


if __name__ == "__main__":
    main()
