"""False stations: announced by real multicast DNS, of every kind that keeps a caller busy."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import json
import socket
import subprocess
import sys
from collections.abc import Coroutine, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Final

from zeroconf import IPVersion, ServiceInfo
from zeroconf.asyncio import AsyncZeroconf

from feedback.link.certificate import server_context, station_identity
from feedback.link.discovery import SERVICE
from shared.messages import PROTOCOL
from tests.feedback.link.wires import Computer, run

KINDS: Final = ("says nothing", "other certificate", "slow TLS", "refuses", "drops packets", "gone")
"""What one does when it is called. ``gone``: no computer has its address."""
_FIRST: Final = 10
"""10.97.0.10 is the first one's address."""
_PORT: Final = 4001
_DRIP_S: Final = 0.2


def host(number: int) -> str:
    """Where the one with this number is, from 0."""
    return f"10.97.0.{_FIRST + number}"


class FalseStations:
    """``count`` of them, each at an address of its own on that computer, in a process of theirs."""

    def __init__(
        self,
        computer: Computer,
        folder: Path,
        prefix: str,
        count: int,
        kinds: Sequence[str] = KINDS,
    ) -> None:
        """``prefix``: the beginning of the certificate's fingerprint as they announce it."""
        self._computer = computer
        self._folder = folder
        self._prefix = prefix
        self.kinds = [kind for _, kind in zip(range(count), itertools.cycle(kinds), strict=False)]
        self.called: list[int] = [0] * count
        """How often each was reached; known at the end."""
        self.told = 0
        """Bytes that those with another certificate were told inside TLS; known at the end."""

    def __enter__(self) -> FalseStations:
        for number, kind in enumerate(self.kinds):
            if kind != "gone":
                words = ("address", "add", f"{host(number)}/24", "dev", self._computer.name)
                run("ip", "-n", self._computer.name, *words)
        asked = (self._computer.address, str(self._folder), self._prefix, *self.kinds)
        command = self._computer.command(sys.executable, "-m", __name__, *asked)
        self._process = subprocess.Popen(
            command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        assert self._process.stdout is not None
        assert self._process.stdout.readline() == "up\n"
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        said, _ = self._process.communicate("\n", timeout=30.0)
        self.called, self.told = json.loads(said)


class _Live:
    """What runs in their process."""

    def __init__(self, address: str, folder: Path, prefix: str, kinds: Sequence[str]) -> None:
        self._address, self._prefix, self._kinds = address, prefix, kinds
        self._other = station_identity(folder).path
        self.called = [0] * len(kinds)
        self.told = 0
        self._sockets: list[socket.socket] = []
        self._tasks: set[asyncio.Task[None]] = set()

    async def run(self) -> None:
        """Until a line comes in."""
        servers = [await self._serve(number, kind) for number, kind in enumerate(self._kinds)]
        zeroconf = AsyncZeroconf(ip_version=IPVersion.V4Only, interfaces=[self._address])
        registering = [
            zeroconf.async_register_service(
                ServiceInfo(
                    SERVICE,
                    f"false {number}.{SERVICE}",
                    port=_PORT,
                    properties={"v": str(PROTOCOL), "fp": self._prefix},
                    server=f"false-{number}.local.",
                    parsed_addresses=[host(number)],
                ),
                cooperating_responders=True,
            )
            for number in range(len(self._kinds))
        ]
        await asyncio.gather(*(await asyncio.gather(*registering)))
        sys.stdout.write("up\n")
        sys.stdout.flush()
        await asyncio.get_running_loop().run_in_executor(None, sys.stdin.readline)
        await zeroconf.async_close()
        for server in servers:
            if server is not None:
                server.close()
        for task in tuple(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        for one in self._sockets:
            one.close()

    async def _serve(self, number: int, kind: str) -> asyncio.Server | None:
        if kind == "drops packets":
            listening = socket.create_server((host(number), _PORT), backlog=1)
            self._sockets.append(listening)
            for _ in range(4):  # its queue is full: the system drops what comes after
                filling = socket.socket()
                filling.setblocking(False)
                with contextlib.suppress(BlockingIOError):
                    filling.connect((host(number), _PORT))
                self._sockets.append(filling)
            return None
        if kind in ("refuses", "gone"):
            return None

        def taken(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            self.called[number] += 1
            self._keep(self._drip(writer) if kind == "slow TLS" else self._listen(reader, writer))

        tls = server_context(self._other) if kind == "other certificate" else None
        return await asyncio.start_server(taken, host(number), _PORT, ssl=tls)

    def _keep(self, work: Coroutine[Any, Any, None]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _listen(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        with contextlib.suppress(OSError):
            while data := await reader.read(4096):
                if writer.get_extra_info("ssl_object") is not None:
                    self.told += len(data)
        writer.close()

    async def _drip(self, writer: asyncio.StreamWriter) -> None:
        """One byte of a handshake record at a time; the record's head says 16 KB."""
        with contextlib.suppress(OSError):
            writer.write(b"\x16\x03\x03\x40\x00\x02")
            while True:
                writer.write(b"\x00")
                await writer.drain()
                await asyncio.sleep(_DRIP_S)
        writer.close()


if __name__ == "__main__":
    live = _Live(sys.argv[1], Path(sys.argv[2]), sys.argv[3], sys.argv[4:])
    asyncio.run(live.run())
    sys.stdout.write(json.dumps([live.called, live.told]) + "\n")
