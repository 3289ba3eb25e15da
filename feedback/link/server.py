"""The station's end of the link: one thread that carries messages to and from the screens."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import secrets
import threading
from collections.abc import Callable
from functools import partial
from typing import Final

from websockets.asyncio.server import ServerConnection
from websockets.exceptions import ConnectionClosed

from feedback.link.conversation import (
    Asked,
    Asker,
    Close,
    Joined,
    Send,
    StationSide,
    StopAsked,
    Tokens,
    encode,
)
from feedback.link.door import DoorAnswer, KeepConsole, RemoteSide
from feedback.link.faults import Faults
from feedback.link.handout import Handout
from feedback.link.network import Network
from feedback.link.outbox import Replay
from feedback.link.phrases import phrase
from feedback.link.screen import Screen, Side
from feedback.link.transport import CLOSE_S, port_of, serve_consoles, serve_screens
from feedback.screens.wording import words
from shared.changes import Answered
from shared.clock import now_ns
from shared.clock_units import NS_PER_S
from shared.messages import Briefing, Goodbye, Point, Refused, Request, Snapshot, Stop
from shared.pictures import CheckReport, Picture, WatchPictures
from shared.problems import Problem, UserError, describe

_STATION: Final = "beltside"
_TICK_S: Final = 0.05
_LOOK_TICKS: Final = 20
"""Each second it is looked whether a console is in the list still."""
_MOST_CONNECTIONS: Final = 16
"""From this computer; those from the network are counted at their socket."""
_GOING_AWAY: Final = 1001
_POLICY: Final = 1008
_LOST_IS_TOLD_NS: Final = 120 * NS_PER_S


class LinkServer:
    """Speaks with the screens at the station, and with paired consoles where there is a network.

    ``on_stop``, ``on_screen_gone`` and ``on_request`` are called in the link's own thread, the
    moment it knows: they must return at once. They get who asks; ``on_screen_gone`` gets a joined
    screen that was disconnected or silent for 1.5 s (a console: 3 s); it is not called for screens
    that :meth:`close` sends away.
    """

    def __init__(
        self,
        on_stop: Callable[[Stop, Asker], None],
        on_screen_gone: Callable[[Asker], None],
        on_request: Callable[[Request, Asker], None],
    ) -> None:
        self._on_stop = on_stop
        self._on_screen_gone = on_screen_gone
        self._on_request = on_request
        self._lock = threading.Lock()
        self._tokens = Tokens()
        self._faults = Faults()
        self._handout = Handout(self._wake)
        self._roles: tuple[str, ...] = ()
        self._consoles: tuple[str, ...] = ()
        self._lost: dict[str, int] = {}
        """Consoles whose link broke, and when."""
        self._wanted_per_s = 0.0
        self._waking = False
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closing: asyncio.Event | None = None
        self._why = ""
        self._started = threading.Event()
        self._failure: Exception | None = None
        self._port = 0
        self._network: Network | None = None
        self._only_pairs = False
        self._screens: set[Screen] = set()  # touched by the link thread only
        self._connections = 0
        self._numbers = itertools.count(1)

    def start(self, network: Network | None = None, *, only_pairs: bool = False) -> int:
        """Begin to listen; returns the port for screens at the station.

        ``network``: listen there too, and close it in the end; ``only_pairs``: consoles may be
        paired, but not take part. Called again it does nothing. Raises UserError ``link_failed``.
        """
        if self._thread is None:
            self._network, self._only_pairs = network, only_pairs
            self._thread = threading.Thread(target=self._run, name="link", daemon=True)
            self._thread.start()
            self._started.wait()
        if self._failure is not None:
            raise UserError("link_failed", why=str(self._failure)) from self._failure
        return self._port

    def issue_token(self, role: str) -> str:
        """A fresh token that lets one screen of this role in, once."""
        token = secrets.token_urlsafe(32)
        self._tokens.add(token, role)
        return token

    def publish(self, snapshot: Snapshot) -> None:
        """Give every screen ``snapshot`` in place of any that it has not got yet.

        Callable from any thread; never waits for a screen.
        """
        self._handout.publish(snapshot)

    def brief(self, briefing: Briefing) -> None:
        """What every screen is told first; from any thread, before any point."""
        self._handout.brief(briefing)

    def add_points(self, points: tuple[Point, ...]) -> None:
        """Newer points for the charts, for every screen that draws some; from any thread."""
        self._handout.add_points(points)

    def show(self, picture: Picture | CheckReport) -> None:
        """Give a picture to the screens that want one now, or a report to all; as `publish`."""
        if isinstance(picture, CheckReport):
            self._handout.publish(picture)
        else:
            self._handout.show(picture)

    def wants_pictures(self) -> float:
        """How many pictures a second the screens want, at most; 0 when nobody looks."""
        with self._lock:
            return self._wanted_per_s

    def answer(self, connection: int, answer: Answered | Replay) -> None:
        """Send an answer, or picture by picture a replay, to the one who asked; any thread."""
        with self._lock, contextlib.suppress(RuntimeError):  # the loop has just been closed
            if self._loop is not None:
                self._loop.call_soon_threadsafe(self._hand_over, connection, answer)

    def screens(self) -> tuple[str, ...]:
        """Roles of the screens that take part now."""
        with self._lock:
            return self._roles

    def consoles(self) -> tuple[str, ...]:
        """Names of the consoles that take part now."""
        with self._lock:
            return self._consoles

    def problem(self) -> Problem | None:
        """Set once something in the link thread failed that should not; the link goes on."""
        return self._faults.problem()

    def problems(self) -> tuple[Problem, ...]:
        """All that is to be told of the link now: its own, the network's, consoles missed."""
        since_ns = now_ns() - _LOST_IS_TOLD_NS
        with self._lock:
            lost = sorted(name for name, at_ns in self._lost.items() if at_ns > since_ns)
        network = None if self._network is None else self._network.problem()
        missed = describe("console_lost", names=", ".join(lost)) if lost else None
        return tuple(one for one in (self.problem(), network, missed) if one is not None)

    def close(self, why: str) -> None:
        """Send what is waiting and a goodbye, then close; returns within about 2 s."""
        with self._lock:
            loop, closing = self._loop, self._closing
            self._why = why
        if loop is not None and closing is not None:
            with contextlib.suppress(RuntimeError):  # closed already
                loop.call_soon_threadsafe(closing.set)
        if self._thread is not None:
            self._thread.join(timeout=5.0)
        if self._network is not None:
            self._network.close()

    # ---- the link thread

    def _run(self) -> None:
        try:
            # The one kind of loop in which our own socket counts what it takes, on every system.
            with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
                runner.run(self._serve())
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            if self._started.is_set():
                self._faults.keep(error)
            else:
                self._failure = error
        finally:
            with self._lock:
                self._loop = None
            self._started.set()

    async def _serve(self) -> None:
        closing = asyncio.Event()
        servers = [await serve_screens(self._talk)]
        network = self._network
        if network is not None:
            talk = partial(self._talk_remote, network)
            servers.append(await serve_consoles(talk, network.listening, network.tls))
            network.announce()
        with self._lock:
            self._loop = asyncio.get_running_loop()
            self._closing = closing
            self._port = port_of(servers[0])
        self._started.set()
        ticker = asyncio.create_task(self._faults.guarded(self._tick()))
        await closing.wait()
        await self._say_goodbye()
        ticker.cancel()
        for server in servers:
            server.close(close_connections=True)
        for screen in self._screens:
            screen.connection.transport.abort()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(asyncio.gather(*(s.wait_closed() for s in servers)), CLOSE_S)

    def _wake(self) -> None:
        """Have the link thread hand out what is new."""
        with self._lock:
            if self._waking or self._loop is None:
                return
            self._waking = True
            with contextlib.suppress(RuntimeError):  # the loop has just been closed
                self._loop.call_soon_threadsafe(self._hand_out)

    async def _talk(self, connection: ServerConnection) -> None:
        """Carry one connection from this computer, from its first message to its end."""
        if self._connections >= _MOST_CONNECTIONS:
            await connection.send(encode(Refused(why=words("refuse_full"))))
            return
        self._connections += 1
        try:
            await self._carry(connection, StationSide(self._tokens, _STATION, now_ns()))
        finally:
            self._connections -= 1

    async def _talk_remote(self, network: Network, connection: ServerConnection) -> None:
        """Carry one connection from the network."""

        def inside(name: str, at_ns: int) -> StationSide:
            return StationSide(self._tokens, network.name, at_ns, console=name)

        await self._carry(connection, network.side(None if self._only_pairs else inside))

    async def _carry(self, connection: ServerConnection, side: Side) -> None:
        screen = Screen(next(self._numbers), connection, side)
        self._screens.add(screen)
        sender = asyncio.create_task(self._faults.guarded(self._send(screen)))
        try:
            await self._faults.guarded(self._listen(screen))
        finally:
            sender.cancel()
            self._leave(screen)

    async def _listen(self, screen: Screen) -> None:
        with contextlib.suppress(ConnectionClosed):
            async for data in screen.connection:
                await self._do(screen, screen.side.on_bytes(data, now_ns()))

    async def _do(self, screen: Screen, answers: tuple[DoorAnswer, ...]) -> None:
        for answer in answers:
            match answer:
                case StopAsked(stop):
                    self._faults.call(partial(self._on_stop, stop, screen.asker))
                case Asked(WatchPictures(most_per_s=most)):
                    screen.outbox.most_pictures_per_s = most
                    self._list_screens()
                case Asked(request):
                    self._faults.call(partial(self._on_request, request, screen.asker))
                case Send(data):
                    await screen.connection.send(data)
                case Joined():
                    self._list_screens()
                    self._handout.welcome(screen.outbox, answer)
                    screen.wake.set()
                case KeepConsole():
                    await screen.connection.send(self._keep(answer))
                case Close(code, why):
                    await screen.connection.close(code, why[:100])

    def _keep(self, console: KeepConsole) -> bytes:
        """Keep a console that was paired; returns what it is told."""
        assert self._network is not None  # noqa: S101 - it came from there
        try:
            return self._network.keep(console)
        except UserError as error:
            return encode(Refused(why=error.problem.title))

    async def _send(self, screen: Screen) -> None:
        """Send what there is whenever the reader has room for it."""
        while True:
            await screen.wake.wait()
            screen.wake.clear()
            with contextlib.suppress(ConnectionClosed):
                while not screen.removed and (data := self._handout.next_for(screen.outbox)):
                    await screen.connection.send(data)
                if screen.removed:
                    await screen.connection.send(encode(Refused(why=phrase("removed"))))
                    await screen.connection.close(_POLICY)
                if screen.goodbye:
                    await screen.connection.send(encode(Goodbye(why=self._why)))
                    await screen.connection.close(_GOING_AWAY)

    def _hand_out(self) -> None:
        with self._lock:
            self._waking = False
        briefing, fresh, picture = self._handout.take()
        at_ns = now_ns()
        for screen in self._screens:
            if screen.side.joined:
                if briefing is not None:
                    screen.outbox.brief(briefing)
                if fresh is not None:
                    screen.outbox.snapshot = fresh
                if picture is not None and screen.outbox.wants_picture(at_ns):
                    screen.outbox.picture(picture, at_ns)
                screen.wake.set()

    def _hand_over(self, connection: int, answer: Answered | Replay) -> None:
        for screen in self._screens:
            if screen.number == connection and screen.side.joined:
                if isinstance(answer, Answered):
                    screen.outbox.answer(answer)
                else:
                    screen.outbox.replay(answer)
                screen.wake.set()

    async def _tick(self) -> None:
        for tick in itertools.count():
            await asyncio.sleep(_TICK_S)
            at_ns = now_ns()
            for screen in tuple(self._screens):
                if screen.side.on_tick(at_ns):
                    # It does not answer, so there is nobody to close politely with.
                    self._leave(screen)
                    screen.connection.transport.abort()
            if tick % _LOOK_TICKS == 0:
                self._send_removed_away()

    def _send_removed_away(self) -> None:
        """A console that was taken out of the list takes part no longer."""
        for screen in tuple(self._screens):
            side, network = screen.side, self._network
            if screen.removed:  # it did not even read that a second ago
                self._leave(screen)
                screen.connection.transport.abort()
            elif network is not None and isinstance(side, RemoteSide) and side.joined:
                screen.removed = not network.is_paired(side.name, side.public_key)
                if screen.removed:
                    screen.wake.set()

    def _leave(self, screen: Screen) -> None:
        """Forget a screen; tells the station once if it had joined."""
        if screen not in self._screens:
            return
        self._screens.discard(screen)
        joined, name = bool(screen.side.role), screen.side.name
        screen.side.on_closed()
        if joined and name and screen.broke:
            with self._lock:
                self._lost[name] = now_ns()
        self._list_screens()
        if joined and not screen.goodbye:
            self._faults.call(partial(self._on_screen_gone, screen.asker))

    async def _say_goodbye(self) -> None:
        for screen in self._screens:
            screen.goodbye = True
            screen.wake.set()
        until_ns = now_ns() + int(CLOSE_S * NS_PER_S)
        while self._screens and now_ns() < until_ns:
            await asyncio.sleep(_TICK_S / 5)

    def _list_screens(self) -> None:
        joined = [screen for screen in self._screens if screen.side.joined]
        with self._lock:
            self._roles = tuple(sorted(screen.side.role for screen in joined))
            self._consoles = tuple(sorted({screen.side.name for screen in joined} - {""}))
            for name in self._consoles:
                self._lost.pop(name, None)
            self._wanted_per_s = max(
                (screen.outbox.most_pictures_per_s for screen in joined), default=0.0
            )
