"""The gateway: a process of its own between the network and the station.

All that a stranger on the network can make busy is in here: TLS, WebSocket, pairing, proofs, the
announcement. The station has none of it in its process. What a console sends goes on to the station
once that console has proved its key, over a connection of its own on this computer, and as it is.

Run by the station: python -m feedback.link.gateway. It is spoken with by one line of JSON a message
over stdin and stdout, and ends with them.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import logging
import os
import socket
import sys
import threading
from collections.abc import Callable
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import Final

import msgspec
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, WebSocketException

from feedback.link.admission import (
    NONCE_BYTES,
    DoorAnswer,
    Forward,
    Forwarded,
    KeepConsole,
    RemoteSide,
)
from feedback.link.certificate import server_context, station_identity
from feedback.link.consoles import ConsoleList
from feedback.link.discovery import Announcer
from feedback.link.gateway_messages import (
    Announce,
    Began,
    Begin,
    Code,
    Failed,
    FromGateway,
    OpenPairing,
    PairedWith,
    Relay,
    Status,
    ToGateway,
    line_of,
    to_gateway,
)
from feedback.link.pairing import PairingDesk
from feedback.link.protocol import POLICY, Close, Send, Vouch, encode
from feedback.link.quota import GIVES_WAY_AFTER_NS, MOST_JOINED_WITH_ONE_KEY, plain_address
from feedback.link.rate_limit import listen
from feedback.link.transport import (
    CLOSE_S,
    HOST,
    GuardedConnection,
    peer,
    quiet,
    serve_consoles,
)
from feedback.texts.languages import follow
from feedback.texts.network import phrase
from shared.clock import now_ns
from shared.messages import LARGEST_MESSAGE_BYTES, Refused
from shared.problems import Problem, UserError, describe
from shared.threads import step_aside

_TICK_S: Final = 0.05
_STATUS_TICKS: Final = 10
_LOOK_TICKS: Final = 20
"""Each second it is looked whether a console is in the list still."""
_RELAY_OPEN_S: Final = 2.0
_RECEIVE_BUFFER_BYTES: Final = 64 * 1024
"""What waits here cannot be overtaken by a newer snapshot."""
_LAST_WORDS_S: Final = 0.6
"""So long it may take to tell the network that the station has gone."""
_POLITE: Final = 4
"""Steps of niceness: the session comes first."""

Say = Callable[[FromGateway], None]


class _Visitor:
    """One connection from the network."""

    def __init__(self, connection: GuardedConnection, side: RemoteSide) -> None:
        self.connection = connection
        self.side = side
        self.relay: ClientConnection | None = None
        self.heard_ns = now_ns()


class Gateway:
    """The network side of one station; lives in one event loop."""

    def __init__(self, begin: Begin, say: Say) -> None:
        """Raises UserError: ``certificate_damaged``, ``save_failed``, ``file_unreadable``.

        Also ``network_failed``.
        """
        folder = Path(begin.folder)
        identity = station_identity(folder)
        self._say = say
        self._fingerprint = identity.fingerprint
        self._tls = server_context(identity.path)
        self._consoles = ConsoleList(folder)
        self._consoles.all()  # a file that cannot be read is told now
        self.desk = PairingDesk(self._fingerprint, begin.name, os.urandom)
        self._listening = listen(begin.port)
        port = int(self._listening.getsockname()[1])
        self._announcer = Announcer(begin.name, self._fingerprint, port)
        self._relay: Relay | None = None
        self._visitors: set[_Visitor] = set()
        self.began = Began(port=port, fingerprint=self._fingerprint)

    async def serve(self, orders: asyncio.Queue[ToGateway | None]) -> None:
        """Do what the station asks for, and let consoles in, until it says None."""
        server = await serve_consoles(self._talk, self._listening, self._tls)
        self._say(self.began)
        ticker = asyncio.create_task(self._tick())
        while (order := await orders.get()) is not None:
            self._obey(order)
        ticker.cancel()
        closing = asyncio.create_task(asyncio.to_thread(self._announcer.close))
        server.close(close_connections=False)
        for visitor in tuple(self._visitors):
            visitor.connection.transport.abort()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(server.wait_closed(), CLOSE_S)
        await asyncio.wait({closing}, timeout=_LAST_WORDS_S)

    def _obey(self, order: ToGateway) -> None:
        match order:
            case Relay():
                self._relay = order
            case Announce():
                self._announcer.start()
            case OpenPairing(only_from=only_from):
                code = self.desk.open(now_ns(), only_from)
                self._tell_status()
                self._say(Code(code=code))
            case Begin():
                pass  # it has begun

    async def _tick(self) -> None:
        for tick in itertools.count():
            await asyncio.sleep(_TICK_S)
            at_ns = now_ns()
            for visitor in tuple(self._visitors):
                for answer in visitor.side.on_tick(at_ns):
                    # It is a stranger and too slow: there is nobody to close politely with.
                    if isinstance(answer, Close):
                        visitor.connection.transport.abort()
            if tick % _STATUS_TICKS == 0:
                self._tell_status()
            if tick % _LOOK_TICKS == 0:
                await self._send_removed_away()

    def _tell_status(self) -> None:
        standing = self.desk.standing(now_ns())
        admission = self._listening.admission
        status = Status(
            open=admission.open(),
            proved=admission.proved(),
            code=standing.code,
            tries_left=standing.tries_left,
            locked=standing.locked,
            attempts=standing.attempts,
            problem=self._announcer.problem(),
        )
        self._say(status)

    async def _talk(self, connection: GuardedConnection) -> None:
        """Carry one connection, from its first message to its end."""
        inside = None if self._relay is None else lambda _name, _at_ns: Forwarded()
        address = plain_address(peer(connection)[0])
        side = RemoteSide(
            self.desk,
            self._key_of,
            self._fingerprint,
            os.urandom(NONCE_BYTES),
            inside,
            now_ns=now_ns(),
            address=address,
        )
        visitor = _Visitor(connection, side)
        self._visitors.add(visitor)
        bringing: asyncio.Task[None] | None = None
        try:
            async for data in connection:
                visitor.heard_ns = now_ns()
                for answer in side.on_bytes(data, visitor.heard_ns):
                    await self._do(visitor, answer)
                if side.name and visitor.relay is None:
                    refused = await self._let_in(visitor)
                    if refused:
                        await connection.send(encode(Refused(why=refused)))
                        await connection.close(POLICY)
                        break
                    bringing = asyncio.create_task(_bring(visitor))
        except (ConnectionClosed, OSError, WebSocketException):
            pass
        finally:
            self._visitors.discard(visitor)
            side.on_closed()
            await _end_relay(visitor)
            if bringing is not None:
                bringing.cancel()

    async def _do(self, visitor: _Visitor, answer: DoorAnswer) -> None:
        match answer:
            case Send(data):
                await visitor.connection.send(data)
            case Forward(data):
                assert visitor.relay is not None  # noqa: S101 - it is in
                await visitor.relay.send(data)
            case KeepConsole():
                await visitor.connection.send(self._keep(answer))
            case Close(code, why):
                await visitor.connection.close(code, why[:100])

    async def _let_in(self, visitor: _Visitor) -> str:
        """Open the way to the station; the words of a refusal, or empty."""
        at_ns, here = now_ns(), peer(visitor.connection)
        quota = self._listening.quota_of(here)
        older = [
            other
            for other in self._visitors
            if other is not visitor
            and other.relay is not None
            and other.side.public_key == visitor.side.public_key
        ]
        if len(older) >= MOST_JOINED_WITH_ONE_KEY:
            silent = min(older, key=lambda other: other.heard_ns)
            if at_ns - silent.heard_ns < GIVES_WAY_AFTER_NS:
                return phrase("twice")
            silent.connection.transport.abort()
        if quota is None or not self._listening.admission.prove(here, at_ns):
            return phrase("full")
        quota.prove(at_ns)
        visitor.connection.quota.prove(at_ns)
        try:
            visitor.relay = await self._open_relay(visitor.side.name)
        except (OSError, TimeoutError, WebSocketException):
            return phrase("no_session")
        return ""

    async def _open_relay(self, name: str) -> ClientConnection:
        assert self._relay is not None  # noqa: S101 - else nobody proves a key
        way = socket.socket()
        way.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _RECEIVE_BUFFER_BYTES)
        way.setblocking(False)
        try:
            await asyncio.get_running_loop().sock_connect(way, (HOST, self._relay.port))
            relay = await connect(
                f"ws://{HOST}:{self._relay.port}",
                sock=way,
                open_timeout=_RELAY_OPEN_S,
                close_timeout=CLOSE_S,
                ping_interval=None,
                compression=None,
                proxy=None,
                max_size=LARGEST_MESSAGE_BYTES,
                max_queue=1,
                logger=quiet,
            )
        except BaseException:
            way.close()
            raise
        await relay.send(encode(Vouch(secret=self._relay.secret, name=name)))
        return relay

    def _keep(self, console: KeepConsole) -> bytes:
        """Keep a console that was paired; returns what it is told."""
        try:
            name = self._consoles.add(console.paired, datetime.now().astimezone().isoformat())
        except UserError as error:
            return encode(Refused(why=error.problem.title))
        self._say(PairedWith(name=name))
        return console.done(name)

    def _key_of(self, name: str) -> bytes | None:
        try:
            return self._consoles.key_of(name)
        except UserError:
            return None  # a damaged list lets nobody in

    async def _send_removed_away(self) -> None:
        """A console that was taken out of the list takes part no longer."""
        for visitor in tuple(self._visitors):
            side = visitor.side
            if visitor.relay is not None and self._key_of(side.name) != side.public_key:
                await _end_relay(visitor, politely=True)
                with contextlib.suppress(ConnectionClosed, OSError, TimeoutError):
                    async with asyncio.timeout(CLOSE_S):
                        await visitor.connection.send(encode(Refused(why=phrase("removed"))))
                        await visitor.connection.close(POLICY)
                visitor.connection.transport.abort()


async def _bring(visitor: _Visitor) -> None:
    """Bring the console what the station says, until either has gone."""
    relay, connection = visitor.relay, visitor.connection
    assert relay is not None  # noqa: S101 - it has just been opened
    with contextlib.suppress(ConnectionClosed, OSError):
        async for data in relay:
            await connection.send(data)
    if relay.protocol.close_rcvd is None:
        connection.transport.abort()
    else:
        received = relay.protocol.close_rcvd
        await connection.close(received.code, received.reason)


async def _end_relay(visitor: _Visitor, *, politely: bool = False) -> None:
    """Tell the station that the console has gone: with a goodbye only if there was one."""
    relay = visitor.relay
    if relay is None:
        return
    if politely or visitor.connection.protocol.close_rcvd is not None:
        with contextlib.suppress(ConnectionClosed, OSError, TimeoutError):
            async with asyncio.timeout(CLOSE_S):
                await relay.close()
    relay.transport.abort()


def main() -> int:
    """Be the gateway of the station at the other end of stdin and stdout."""
    follow()
    logging.basicConfig(level=logging.ERROR)
    lock = threading.Lock()
    out = sys.stdout.buffer

    def say(message: FromGateway) -> None:
        with lock, contextlib.suppress(OSError, ValueError):
            out.write(line_of(message))
            out.flush()

    try:
        begin = to_gateway(sys.stdin.buffer.readline())
    except msgspec.MsgspecError:
        return 2  # not a station: nobody to tell
    if not isinstance(begin, Begin):
        return 2
    step_aside(_POLITE)
    try:
        gateway = Gateway(begin, say)
    except UserError as error:
        say(Failed(problem=error.problem))
        return 1
    except Exception as error:
        say(Failed(problem=_unforeseen(error)))
        raise
    with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
        runner.run(_run(gateway))
    return 0


async def _run(gateway: Gateway) -> None:
    orders: asyncio.Queue[ToGateway | None] = asyncio.Queue()
    loop = asyncio.get_running_loop()

    def put(order: ToGateway | None) -> None:
        loop.call_soon_threadsafe(orders.put_nowait, order)

    threading.Thread(target=partial(_read_orders, put), name="orders", daemon=True).start()
    await gateway.serve(orders)
    # What is still under way is an announcement that nobody needs any more; the station waits.
    os._exit(0)


def _read_orders(put: Callable[[ToGateway | None], object]) -> None:
    """Read what the station says until it has gone, however it went."""
    with contextlib.suppress(RuntimeError):  # the loop has just been closed
        with contextlib.suppress(OSError, ValueError, msgspec.MsgspecError):
            for line in sys.stdin.buffer:
                put(to_gateway(line))
        put(None)


def _unforeseen(error: Exception) -> Problem:
    return describe("network_failed", str(error), why=type(error).__name__)


if __name__ == "__main__":
    sys.exit(main())
