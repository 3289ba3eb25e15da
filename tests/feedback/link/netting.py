"""A station on the network of this computer, consoles for it, and a cable that can be cut."""

from __future__ import annotations

import asyncio
import contextlib
import queue
import selectors
import socket
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

import pytest
from websockets.exceptions import ConnectionClosed

from feedback.link.address import Address
from feedback.link.client_state import LinkState
from feedback.link.connect import dial, pair_with
from feedback.link.consoles import KnownStation
from feedback.link.gateway import Gateway
from feedback.link.gateway_messages import Begin, Status, ToGateway
from feedback.link.network_station import Network
from feedback.link.protocol import Asker
from feedback.link.remote_client import RemoteClient
from feedback.link.server import LinkServer
from shared.clock import now_ns
from shared.flow import View
from shared.messages import Briefing, Point, Request, Stop

PATIENCE_S = 20.0
HOST = "127.0.0.1"


def until(check: Callable[[], Any]) -> Any:
    """Wait until ``check`` gives something true; fails the test when it never does."""
    deadline = time.monotonic() + PATIENCE_S
    while not (found := check()):
        assert time.monotonic() < deadline, "it never came to pass"
        time.sleep(0.005)
    return found


class NearNetwork(Network):
    """A network whose gateway runs in a thread here, so that a test can look and reach into it."""

    def __init__(
        self, folder: Path, name: str, port: int, on_paired: Callable[[str], None]
    ) -> None:
        self.name = name
        self._on_paired = on_paired
        self._lock = threading.Lock()
        self._status: Status | None = None
        self._heard_ns, self._down = now_ns(), False
        self._closing = threading.Event()
        self._codes: queue.Queue[str] = queue.Queue()
        self._orders: asyncio.Queue[ToGateway | None] = asyncio.Queue()
        self.gateway = Gateway(Begin(folder=str(folder), name=name, port=port), self._take)
        self.port, self.fingerprint = self.gateway.began.port, self.gateway.began.fingerprint
        self._begun = threading.Event()
        self._thread = threading.Thread(target=self._carry, name="near gateway", daemon=True)
        self._thread.start()
        self._begun.wait(PATIENCE_S)

    def _carry(self) -> None:
        async def serve() -> None:
            self._loop = asyncio.get_running_loop()
            self._begun.set()
            await self.gateway.serve(self._orders)

        with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
            runner.run(serve())

    def _tell(self, order: ToGateway | None) -> None:
        self._loop.call_soon_threadsafe(self._orders.put_nowait, order)

    def close(self) -> None:
        if self._thread.is_alive():
            self._tell(None)
            self._thread.join(PATIENCE_S)


class NetStation:
    """A link server with a network, that notes what it was told.

    ``near``: the gateway runs in this process, and not in one of its own.
    """

    def __init__(
        self,
        folder: Path,
        name: str = "room 1",
        *,
        only_pairs: bool = False,
        port: int = 0,
        near: bool = False,
    ) -> None:
        self.stops: queue.Queue[tuple[Stop, Asker]] = queue.Queue()
        self.gone: queue.Queue[Asker] = queue.Queue()
        self.requests: queue.Queue[tuple[Request, Asker]] = queue.Queue()
        self.paired: queue.Queue[str] = queue.Queue()
        make = NearNetwork if near else Network
        self.network = make(folder, name, port, self.paired.put)
        self.server = LinkServer(
            lambda stop, asker: self.stops.put((stop, asker)),
            self.gone.put,
            lambda request, asker: self.requests.put((request, asker)),
        )
        self.server.start(self.network, only_pairs=only_pairs)
        self.place = Address(HOST, self.network.port)

    def pair(self, name: str = "front desk") -> KnownStation:
        """Pair a console, as people do it."""
        return pair_with(self.place, self.network.open_pairing(), name)

    def untouched(self) -> bool:
        """Whether nothing at all has reached the session."""
        return self.stops.empty() and self.requests.empty() and self.gone.empty()

    def close(self) -> None:
        self.server.close("test over")


def remote(known: KnownStation, *places: Address) -> RemoteClient:
    """A console that has begun to join."""
    client = RemoteClient(known, lambda: places)
    client.start()
    return client


_signed: WeakKeyDictionary[RemoteClient, float] = WeakKeyDictionary()


def sign_of_life(client: RemoteClient) -> None:
    """As a window gives them: a few a second, however often this is called."""
    if time.monotonic() - _signed.get(client, 0.0) > 0.3:
        _signed[client] = time.monotonic()
        client.ping()


def joined(client: RemoteClient) -> bool:
    return client.status().state is LinkState.JOINED


class Raw:
    """A bare connection over TLS, for what no console of ours would send.

    Nothing is read but in :meth:`recv` and while something is sent, so it can be a slow reader.
    """

    def __init__(self, place: Address, trusted: bytes | None = None) -> None:
        self._runner = asyncio.Runner()
        try:
            self._connection = self._runner.run(dial(place, trusted))
        except BaseException:
            self._runner.close()
            raise

    def __enter__(self) -> Raw:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def send(self, data: bytes) -> None:
        self._runner.run(self._connection.send(data))

    def recv(self, timeout: float = PATIENCE_S) -> bytes | str:
        async def receive() -> bytes | str:
            return await asyncio.wait_for(self._connection.recv(), timeout)

        return self._runner.run(receive())

    def close(self) -> None:
        with contextlib.suppress(ConnectionClosed, TimeoutError):
            self._runner.run(asyncio.wait_for(self._connection.close(), 1.0))
        self.drop()

    def drop(self) -> None:
        """Be gone without a goodbye."""
        self._connection.transport.abort()
        self._runner.close()


def briefing(run: str = "run 1") -> Briefing:
    return Briefing(
        run=run,
        code_name="runner 7",
        view=View.SIDE,
        belt_speed_kmh=10.0,
        own=(),
        blocks=(),
        pain_stop_over=5,
    )


def points(first: int, last: int) -> tuple[Point, ...]:
    return tuple(
        Point(
            number=number,
            at_ns=number * 1_000_000,
            step_number=number,
            name="cadence",
            side=None,
            value=170.0,
            unit="steps/min",
            percent_leg=None,
            uncertainty=0.5,
            quality=1.0,
        )
        for number in range(first, last + 1)
    )


class Cable:
    """Carries bytes to a station; while it is cut, nothing gets through and nobody is told."""

    def __init__(self, to: Address) -> None:
        self._to = to
        self._listening = socket.create_server((HOST, 0))
        self.place = Address(HOST, self._listening.getsockname()[1])
        self._cut = False
        self._closing = False
        self._pairs: list[tuple[socket.socket, socket.socket]] = []
        self.carried = bytearray()
        """What went to the station, as it travelled."""
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def cut(self) -> None:
        self._cut = True

    def mend(self) -> None:
        self._cut = False

    def close(self) -> None:
        self._closing = True
        self._thread.join()

    def _run(self) -> None:
        with selectors.DefaultSelector() as ready, contextlib.ExitStack() as opened:
            opened.enter_context(self._listening)
            ready.register(self._listening, selectors.EVENT_READ)
            other: dict[socket.socket, socket.socket] = {}
            while not self._closing:
                if self._cut:  # nothing is read, so that both ends see silence and no end
                    time.sleep(0.01)
                    continue
                for key, _ in ready.select(0.02):
                    source = key.fileobj
                    assert isinstance(source, socket.socket)
                    if source is self._listening:
                        near, _ = source.accept()
                        try:
                            far = socket.create_connection(self._to)
                        except OSError:
                            near.close()
                            continue
                        for one, its_other in ((near, far), (far, near)):
                            other[opened.enter_context(one)] = its_other
                            ready.register(one, selectors.EVENT_READ, one is near)
                        continue
                    try:
                        data = source.recv(65536)
                        if key.data:
                            self.carried += data
                        other[source].sendall(data)
                    except OSError:
                        data = b""
                    if not data:
                        for end in (source, other[source]):
                            with contextlib.suppress(KeyError, ValueError, OSError):
                                ready.unregister(end)
                                end.shutdown(socket.SHUT_RDWR)


@pytest.fixture
def quiet_network(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stations of a test are not announced to the world."""
    monkeypatch.setattr(Network, "announce", lambda _: None)
