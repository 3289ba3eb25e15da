"""The station's end of the link: one thread that carries messages to and from the screens.

It listens to this computer alone. Consoles on the network come through the gateway, a process of
its own, which hands on only what comes from those who have proved their key.
"""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import secrets
import threading
from collections.abc import Callable
from functools import partial
from typing import Final

from websockets.exceptions import ConnectionClosed

from feedback.link.broadcast import Broadcast
from feedback.link.connected_screen import Screen
from feedback.link.link_faults import Faults
from feedback.link.network_station import Network
from feedback.link.outbox import Replay
from feedback.link.protocol import (
    Answer,
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
from feedback.link.quota import MOST_PROVED
from feedback.link.transport import CLOSE_S, GuardedConnection, port_of, serve_screens
from feedback.texts.runner import answer as answer_text
from shared.changes import Answered
from shared.clock import now_ns
from shared.messages import Briefing, Goodbye, Point, Refused, Request, Snapshot, Stop
from shared.pictures import CheckReport, Picture, WatchPictures
from shared.problems import Problem, UserError, describe
from shared.units import NS_PER_S

_STATION: Final = "beltside"
_TICK_S: Final = 0.05
_MOST_CONNECTIONS: Final = 16
"""Of screens; those from the gateway have places of their own."""
_GOING_AWAY: Final = 1001
_LOST_IS_TOLD_NS: Final = 120 * NS_PER_S
_LATE_NS: Final = NS_PER_S // 2


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
        on_beat: Callable[[int], None] = lambda _now_ns: None,
    ) -> None:
        """``on_beat`` is a sign of life of the link's thread, 20 times a second."""
        self._on_beat = on_beat
        self._on_stop = on_stop
        self._on_screen_gone = on_screen_gone
        self._on_request = on_request
        self._lock = threading.Lock()
        self._tokens = Tokens()
        self._faults = Faults()
        self._handout = Broadcast(self._wake)
        self._roles: tuple[str, ...] = ()
        self._consoles: tuple[str, ...] = ()
        self._lost: dict[str, int] = {}
        """Consoles whose link broke, and when."""
        self._why_gone: dict[int, str] = {}
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
        self._screens: set[Screen] = set()  # touched by the link thread only
        self.awake_ns: int | None = None
        """When the link's thread last came round; None before it runs and after its end."""
        self._numbers = itertools.count(1)

    def start(self, network: Network | None = None, *, only_pairs: bool = False) -> int:
        """Begin to listen; returns the port for screens at the station.

        ``network``: have its gateway let consoles in, and close it in the end; ``only_pairs``:
        consoles may be paired, but not take part. Called again it does nothing. Raises UserError
        ``link_failed``.
        """
        begins = self._thread is None
        if self._thread is None:
            self._network = network
            self._tokens.of_gateway = secrets.token_urlsafe(32)
            self._thread = threading.Thread(target=self._run, name="link", daemon=True)
            self._thread.start()
            self._started.wait()
        if self._failure is not None:
            raise UserError("link_failed", why=str(self._failure)) from self._failure
        if begins and network is not None:
            if not only_pairs:
                network.serve(self._port, self._tokens.of_gateway)
            network.announce()
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

    def why_gone(self, connection: int) -> str:
        """Why a screen or console is taken for gone, for the log; forgotten by being asked."""
        with self._lock:
            return self._why_gone.pop(connection, "not known")

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
        stalled = describe("link_stalled") if self.late_ns() > _LATE_NS else None
        found = (stalled, self.problem(), network, missed)
        return tuple(one for one in found if one is not None)

    def late_ns(self) -> int:
        """How long ago the link's thread gave its last sign of life; 0 while it does not run."""
        awake_ns = self.awake_ns
        return 0 if awake_ns is None else now_ns() - awake_ns

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
            self.awake_ns = None
            self._started.set()

    async def _serve(self) -> None:
        closing = asyncio.Event()
        server = await serve_screens(self._talk)
        with self._lock:
            self._loop = asyncio.get_running_loop()
            self._closing = closing
            self._port = port_of(server)
        self._started.set()
        ticker = asyncio.create_task(self._faults.guarded(self._tick()))
        await closing.wait()
        await self._say_goodbye()
        ticker.cancel()
        server.close(close_connections=True)
        for screen in self._screens:
            screen.connection.transport.abort()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(server.wait_closed(), CLOSE_S)

    def _wake(self) -> None:
        """Have the link thread hand out what is new."""
        with self._lock:
            if self._waking or self._loop is None:
                return
            self._waking = True
            with contextlib.suppress(RuntimeError):  # the loop has just been closed
                self._loop.call_soon_threadsafe(self._hand_out)

    async def _talk(self, connection: GuardedConnection) -> None:
        """Carry one connection, from its first message to its end."""
        consoles = sum(screen.side.vouched for screen in self._screens)
        if len(self._screens) - consoles >= _MOST_CONNECTIONS or consoles > MOST_PROVED:
            await connection.send(encode(Refused(why=answer_text("refuse_full"))))
            return
        station = _STATION if self._network is None else self._network.name
        screen = Screen(
            next(self._numbers), connection, StationSide(self._tokens, station, now_ns())
        )
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

    async def _do(self, screen: Screen, answers: tuple[Answer, ...]) -> None:
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
                    screen.connection.quota.prove(now_ns())
                    self._list_screens()
                    self._handout.welcome(screen.outbox, answer)
                    screen.wake.set()
                case Close(code, why):
                    await screen.connection.close(code, why[:100])

    async def _send(self, screen: Screen) -> None:
        """Send what there is whenever the reader has room for it."""
        while True:
            await screen.wake.wait()
            screen.wake.clear()
            with contextlib.suppress(ConnectionClosed):
                while data := self._handout.next_for(screen.outbox):
                    await screen.connection.send(data)
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
        while True:
            await asyncio.sleep(_TICK_S)
            self.awake_ns = at_ns = now_ns()
            self._on_beat(at_ns)
            for screen in tuple(self._screens):
                if screen.side.on_tick(at_ns):
                    # It does not answer, so there is nobody to close politely with.
                    self._leave(screen)
                    screen.connection.transport.abort()

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
            with self._lock:
                self._why_gone[screen.number] = screen.why_gone(now_ns())
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
