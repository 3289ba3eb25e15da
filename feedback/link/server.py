"""The station's end of the link: one thread that carries messages to and from the screens."""

from __future__ import annotations

import asyncio
import contextlib
import itertools
import logging
import secrets
import threading
import traceback
from collections.abc import Callable, Coroutine
from functools import partial
from typing import Final

from websockets.asyncio.server import Server, ServerConnection, serve
from websockets.exceptions import ConnectionClosed

from feedback.link.conversation import (
    GETS_POINTS,
    LARGEST_FROM_SCREEN_BYTES,
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
from feedback.link.outbox import Outbox, Replay, Ring
from feedback.screens.wording import words
from shared.changes import Answered
from shared.clock import now_ns
from shared.messages import Briefing, Goodbye, Point, Refused, Request, Snapshot, Stop
from shared.pictures import CheckReport, Picture, WatchPictures
from shared.problems import Problem, UserError, describe

_HOST: Final = "127.0.0.1"
_STATION: Final = "beltside"
_TICK_S: Final = 0.05
_MOST_CONNECTIONS: Final = 16
_GOING_AWAY: Final = 1001
_CLOSE_S: Final = 0.5
"""How long a closing waits for the other end."""
_WRITE_LIMIT_BYTES: Final = 64 * 1024

# The library reports every failed handshake as an error, with a traceback; nobody needs it here.
_quiet = logging.getLogger("beltside.link")
_quiet.addHandler(logging.NullHandler())
_quiet.propagate = False


class _Screen:
    """One connection: its conversation, and what is still to be sent."""

    def __init__(self, number: int, connection: ServerConnection, side: StationSide) -> None:
        self.number = number
        self.connection = connection
        self.side = side
        self.outbox = Outbox()
        self.wake = asyncio.Event()
        self.goodbye = False

    @property
    def asker(self) -> Asker:
        """Who speaks there."""
        return Asker(role=self.side.role, name=self.side.name, connection=self.number)


class LinkServer:
    """Listens on the loopback address and speaks with the screens that hold a token.

    ``on_stop``, ``on_screen_gone`` and ``on_request`` are called in the link's own thread, the
    moment it knows: they must return at once. They get who asks; ``on_screen_gone`` gets a joined
    screen that was disconnected or silent for 1.5 s; it is not called for screens that
    :meth:`close` sends away.
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
        self._roles: tuple[str, ...] = ()
        self._consoles: tuple[str, ...] = ()
        self._wanted_per_s = 0.0
        self._problem: Problem | None = None
        self._newest: bytes | None = None
        self._fresh: bytes | None = None
        """The newest, while it is not handed out yet."""
        self._picture: bytes | None = None
        self._briefing: Briefing | None = None
        self._ring = Ring()
        self._waking = False
        self._thread: threading.Thread | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._closing: asyncio.Event | None = None
        self._why = ""
        self._started = threading.Event()
        self._failure: Exception | None = None
        self._port = 0
        self._screens: set[_Screen] = set()  # touched by the link thread only
        self._connections = 0
        self._numbers = itertools.count(1)

    def start(self) -> int:
        """Begin to listen; returns the port. Raises UserError ``link_failed``."""
        self._thread = threading.Thread(target=self._run, name="link", daemon=True)
        self._thread.start()
        self._started.wait()
        if self._failure is not None:
            raise UserError("link_failed", why=str(self._failure)) from self._failure
        return self._port

    def issue_token(self, role: str) -> str:
        """A fresh token that lets one screen of this role in, once."""
        token = secrets.token_urlsafe(32)
        with self._lock:
            self._tokens.add(token, role)
        return token

    def publish(self, snapshot: Snapshot) -> None:
        """Give every screen ``snapshot`` in place of any that it has not got yet.

        Callable from any thread; never waits for a screen.
        """
        data = encode(snapshot)
        with self._lock:
            self._newest = self._fresh = data
            self._wake()

    def brief(self, briefing: Briefing) -> None:
        """What every screen is told on joining; from any thread, before any point."""
        with self._lock:
            self._briefing = briefing

    def add_points(self, points: tuple[Point, ...]) -> None:
        """Newer points for the charts, for every screen that draws some; from any thread."""
        if points:
            with self._lock:
                self._ring.add(points)
                self._wake()

    def show(self, picture: Picture | CheckReport) -> None:
        """Give a picture to the screens that want one now, or a report to all; as `publish`."""
        data = encode(picture)
        with self._lock:
            if isinstance(picture, CheckReport):
                self._newest = self._fresh = data
            else:
                self._picture = data
            self._wake()

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
        with self._lock:
            return self._problem

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

    # ---- the link thread

    def _run(self) -> None:
        try:
            asyncio.run(self._serve())
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            if self._started.is_set():
                self._note_failure(error)
            else:
                self._failure = error
        finally:
            with self._lock:
                self._loop = None
            self._started.set()

    async def _serve(self) -> None:
        closing = asyncio.Event()
        server = await serve(
            self._talk,
            _HOST,
            0,
            origins=[None],  # a web page in a browser must not reach the station
            compression=None,
            max_size=LARGEST_FROM_SCREEN_BYTES,
            max_queue=8,
            write_limit=_WRITE_LIMIT_BYTES,
            open_timeout=2.0,
            close_timeout=_CLOSE_S,
            ping_interval=None,  # our own Ping must come from the screen's event loop
            logger=_quiet,
        )
        with self._lock:
            self._loop = asyncio.get_running_loop()
            self._closing = closing
            self._port = _port_of(server)
        self._started.set()
        ticker = asyncio.create_task(self._guarded(self._tick()))
        await closing.wait()
        await self._say_goodbye()
        ticker.cancel()
        server.close(close_connections=True)
        for screen in self._screens:
            screen.connection.transport.abort()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(server.wait_closed(), _CLOSE_S)

    def _wake(self) -> None:
        """Have the link thread hand out what is new; the lock is held."""
        if self._waking or self._loop is None:
            return
        self._waking = True
        with contextlib.suppress(RuntimeError):  # the loop has just been closed
            self._loop.call_soon_threadsafe(self._hand_out)

    async def _talk(self, connection: ServerConnection) -> None:
        """Carry one connection from its first message to its end."""
        if self._connections >= _MOST_CONNECTIONS:
            await connection.send(encode(Refused(why=words("refuse_full"))))
            return
        self._connections += 1
        side = StationSide(self._tokens, _STATION, now_ns())
        screen = _Screen(next(self._numbers), connection, side)
        self._screens.add(screen)
        sender = asyncio.create_task(self._guarded(self._send(screen)))
        try:
            await self._guarded(self._listen(screen))
        finally:
            self._connections -= 1
            sender.cancel()
            self._leave(screen)

    async def _listen(self, screen: _Screen) -> None:
        with contextlib.suppress(ConnectionClosed):
            async for data in screen.connection:
                with self._lock:
                    answers = screen.side.on_bytes(data, now_ns())
                await self._do(screen, answers)

    async def _do(self, screen: _Screen, answers: tuple[Answer, ...]) -> None:
        for answer in answers:
            match answer:
                case StopAsked(stop):
                    self._call(partial(self._on_stop, stop, screen.asker))
                case Asked(WatchPictures(most_per_s=most)):
                    screen.outbox.most_pictures_per_s = most
                    self._list_screens()
                case Asked(request):
                    self._call(partial(self._on_request, request, screen.asker))
                case Send(data):
                    await screen.connection.send(data)
                case Joined():
                    self._list_screens()
                    self._welcome(screen, answer)
                case Close(code, why):
                    await screen.connection.close(code, why[:100])

    def _welcome(self, screen: _Screen, joined: Joined) -> None:
        """Lay out for a screen that has joined what it is to get first."""
        outbox = screen.outbox
        with self._lock:
            outbox.snapshot, briefing = self._newest, self._briefing
        if briefing is not None:
            outbox.brief(encode(briefing))
        if joined.role in GETS_POINTS:
            same = briefing is not None and joined.run == briefing.run
            outbox.seen = joined.seen if same else 0
        screen.wake.set()

    async def _send(self, screen: _Screen) -> None:
        """Send what there is whenever the reader has room for it."""
        while True:
            await screen.wake.wait()
            screen.wake.clear()
            with contextlib.suppress(ConnectionClosed):
                while (data := self._next_for(screen)) is not None:
                    await screen.connection.send(data)
                if screen.goodbye:
                    await screen.connection.send(encode(Goodbye(why=self._why)))
                    await screen.connection.close(_GOING_AWAY)

    def _next_for(self, screen: _Screen) -> bytes | None:
        with self._lock:
            return screen.outbox.next(self._ring)

    def _hand_out(self) -> None:
        with self._lock:
            fresh, picture = self._fresh, self._picture
            self._waking, self._fresh, self._picture = False, None, None
        at_ns = now_ns()
        for screen in self._screens:
            if screen.side.joined:
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
            at_ns = now_ns()
            for screen in tuple(self._screens):
                if screen.side.on_tick(at_ns):
                    # It does not answer, so there is nobody to close politely with.
                    self._leave(screen)
                    screen.connection.transport.abort()

    def _leave(self, screen: _Screen) -> None:
        """Forget a screen; tells the station once if it had joined."""
        if screen not in self._screens:
            return
        self._screens.discard(screen)
        screen.side.on_closed()
        self._list_screens()
        if screen.side.role and not screen.goodbye:
            self._call(partial(self._on_screen_gone, screen.asker))

    async def _say_goodbye(self) -> None:
        for screen in self._screens:
            screen.goodbye = True
            screen.wake.set()
        until_ns = now_ns() + int(_CLOSE_S * 1e9)
        while self._screens and now_ns() < until_ns:
            await asyncio.sleep(_TICK_S / 5)

    def _list_screens(self) -> None:
        joined = [screen for screen in self._screens if screen.side.joined]
        with self._lock:
            self._roles = tuple(sorted(screen.side.role for screen in joined))
            self._consoles = tuple(
                sorted(screen.side.name for screen in joined if screen.side.name)
            )
            self._wanted_per_s = max(
                (screen.outbox.most_pictures_per_s for screen in joined), default=0.0
            )

    def _call(self, callback: Callable[[], None]) -> None:
        try:
            callback()
        except Exception as error:  # noqa: BLE001 - the station's mistake must not end the link
            self._note_failure(error)

    async def _guarded(self, work: Coroutine[None, None, None]) -> None:
        try:
            await work
        except Exception as error:  # noqa: BLE001 - told as a problem, not lost in a task
            self._note_failure(error)

    def _note_failure(self, error: Exception) -> None:
        details = "".join(traceback.format_exception(error))
        with self._lock:
            self._problem = describe("worker_failed", details=details, part="the link")


def _port_of(server: Server) -> int:
    return int(next(iter(server.sockets)).getsockname()[1])
