"""A console's link to one station over the network: as LinkClient, and it joins again by itself.

All of it runs in one thread with an event loop of its own, since TLS is not to be read and written
by two threads at once.
"""

from __future__ import annotations

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import Final

from websockets.asyncio.client import ClientConnection
from websockets.exceptions import ConnectionClosed

from feedback.link.address import Address
from feedback.link.client_inbox import ClientInbox
from feedback.link.client_state import LinkState, LinkStatus, ScreenSide
from feedback.link.connect import approach
from feedback.link.consoles import KnownStation
from feedback.link.parallel_calls import Caller, spread
from feedback.link.pending_stop import StopWish
from feedback.link.reconnect import HELD_NS, CallOutcome, Calls
from feedback.texts.network import phrase
from shared.changes import Adjust, Answered, MoveBlock, Note, SetVolume, Undo
from shared.clock import now_ns
from shared.messages import Request, Role, SessionState
from shared.pictures import AskReplay, SaveReplay

SILENCE_S: Final = 2.0
"""The station says something ten times a second; after so long without a word it is called."""
_MOST_WAITING: Final = 200

_WithId = Adjust | Undo | MoveBlock | Note | SetVolume | AskReplay | SaveReplay


class RemoteClient(ClientInbox):
    """Joins ``station`` wherever ``places`` says that it may be, again and again, until closed.

    The first of ``places`` is where it was last met; ``on_met`` is told, in a thread of its own,
    where it was met and the link has held. ``on_news`` is called in the link's own thread after
    each change of :meth:`status`; it must return at once. Everything else may be called from any
    thread. What could not be sent is answered too, and what was not answered before the link broke.
    """

    def __init__(
        self,
        station: KnownStation,
        places: Callable[[], tuple[Address, ...]],
        on_news: Callable[[], None] = lambda: None,
        on_met: Callable[[Address], None] = lambda _: None,
    ) -> None:
        self.station = station
        self._places = places
        self._on_news, self._on_met = on_news, on_met
        self._calls = Calls()
        super().__init__(ScreenSide("", Role.CONSOLE))
        self._heard_ns: int | None = None
        self._lost_ns: int | None = now_ns()
        self._wish = StopWish()
        self._run_here = ""
        """What is on, as the station has said on this very link."""
        self._asked: dict[int, None] = {}
        """What was sent and not answered, by id, oldest first."""
        self._loop: asyncio.AbstractEventLoop | None = None
        self._outgoing: asyncio.Queue[bytes] | None = None
        self._closing = threading.Event()
        self._over: asyncio.Event | None = None
        self._thread = threading.Thread(target=self._run, name="remote link", daemon=True)

    def start(self) -> None:
        """Begin to join; how it stands is told by :meth:`status`."""
        self._thread.start()

    def status(self) -> LinkStatus:
        """What is known now."""
        with self._lock:
            side, wish = self._side, self._wish
            stopped = side.newest is not None and side.newest.state is SessionState.STOPPED
            return LinkStatus(
                state=side.state,
                why=phrase("stop_earlier") if wish.too_late else side.why,
                snapshot=side.newest,
                briefing=side.briefing,
                picture=side.picture,
                report=side.report,
                heard_ns=self._heard_ns,
                stop_asked=wish.asked_ns is not None,
                stop_waits=wish.asked_ns is not None and not stopped,
                lost_ns=self._lost_ns,
            )

    def stop(self) -> None:
        """Ask for Stop, now; without a link as soon as it is up, if it is the same run still."""
        with self._lock:
            briefing = self._side.briefing
            self._wish.ask("" if briefing is None else briefing.run, now_ns())
            self._send_stop()

    def ask(self, request: Request) -> None:
        """Ask for something beside Stop; without a link it is answered at once that it is lost."""
        with self._lock:
            joined = self._side.state is LinkState.JOINED and self._outgoing is not None
            if isinstance(request, _WithId):
                if not joined or len(self._asked) >= _MOST_WAITING:
                    self._side.answers.append(_no(request.id, "not_sent"))
                    return
                self._asked[request.id] = None
            if joined:
                self._send(ScreenSide.ask(request))

    def ping(self) -> None:
        """Give a sign of life; call it from the event loop that must be alive."""
        with self._lock:
            if self._side.state is LinkState.JOINED:
                self._send(ScreenSide.ping(now_ns()))

    def close(self) -> None:
        """Leave the station; returns within about 1 s."""
        self._closing.set()
        with self._lock:
            loop, over = self._loop, self._over
            if loop is not None and over is not None:
                with contextlib.suppress(RuntimeError):  # closed already
                    loop.call_soon_threadsafe(over.set)
        if self._thread.ident is not None:
            self._thread.join(timeout=3.0)

    # inside

    def _send(self, data: bytes) -> None:
        """Have it sent; the lock is held."""
        if self._loop is not None and self._outgoing is not None:
            with contextlib.suppress(RuntimeError):  # the loop has just been closed
                self._loop.call_soon_threadsafe(self._outgoing.put_nowait, data)

    def _run(self) -> None:
        try:
            with asyncio.Runner(loop_factory=asyncio.SelectorEventLoop) as runner:
                runner.run(self._stay_joined())
        except Exception as error:  # noqa: BLE001 - the guard of this thread
            self._note_lost(f"{type(error).__name__}: {error}")
        finally:
            with self._lock:
                self._loop = None
        self._on_news()

    async def _stay_joined(self) -> None:
        over = asyncio.Event()
        with self._lock:
            self._loop, self._over = asyncio.get_running_loop(), over
        joining = asyncio.create_task(self._join_again_and_again())
        ending = asyncio.create_task(over.wait())
        if not self._closing.is_set():
            await asyncio.wait({joining, ending}, return_when=asyncio.FIRST_COMPLETED)
        for task in (ending, joining):
            task.cancel()
        with contextlib.suppress(asyncio.CancelledError):
            await joining

    async def _join_again_and_again(self) -> None:
        while True:
            async with Caller(
                self._calls, self._places, self.station.certificate, self._note_failed
            ) as caller:
                joined = False
                while not joined:
                    joined = await self._join(*await caller.next(), caller)

    async def _join(self, place: Address, connection: ClientConnection, caller: Caller) -> bool:
        """Take part at this place until the link ends; whether it came to that at all."""
        why, outcome = phrase("broke"), CallOutcome.BROKE
        began_ns = now_ns()
        try:
            refused = await approach(connection, self.station)
            if refused:
                outcome = CallOutcome.TURNED_AWAY
                self._note_refused(refused)
            else:
                await self._take_part(place, connection, caller)
        except TimeoutError:
            why = phrase("silent")
        except (ConnectionClosed, OSError):
            pass
        finally:
            joined = self._note_lost(why)
            # A broken network answers nothing, not even a goodbye.
            if self._closing.is_set():
                with contextlib.suppress(Exception):
                    await connection.close()
            connection.transport.abort()
        if joined:
            self._calls.left(place, now_ns() - began_ns, now_ns(), spread())
        else:
            caller.failed(place, outcome)
        return joined

    async def _take_part(
        self, place: Address, connection: ClientConnection, caller: Caller
    ) -> None:
        outgoing: asyncio.Queue[bytes] = asyncio.Queue()
        with self._lock:
            self._side.again("")
            self._outgoing = outgoing
        await connection.send(self._side.hello())
        sender = asyncio.create_task(_send_all(connection, outgoing))
        joined_ns: int | None = None
        proved = False
        try:
            while self._side.state in (LinkState.CONNECTING, LinkState.JOINED):
                data = await asyncio.wait_for(connection.recv(), SILENCE_S)
                with self._lock:
                    self._take(data)
                self._on_news()
                if self._side.state is not LinkState.JOINED:
                    continue
                if joined_ns is None:
                    joined_ns = now_ns()
                    self._calls.joined()
                    await caller.hang_up()
                elif not proved and now_ns() - joined_ns >= HELD_NS:
                    proved = True
                    self._calls.proved(place)
                    # Nothing waits for a disk here.
                    asyncio.get_running_loop().run_in_executor(None, self._on_met, place)
        finally:
            sender.cancel()

    def _take(self, data: bytes | str) -> None:
        """Take in what the station says; the lock is held."""
        side = self._side
        briefing, answered = side.briefing, len(side.answers)
        side.on_bytes(data)
        self._heard_ns = now_ns()
        if side.briefing is not None and side.briefing is not briefing:
            self._run_here = side.briefing.run
        for answer in list(side.answers)[answered:]:
            self._asked.pop(answer.id, None)
        if side.state is LinkState.JOINED:
            self._lost_ns = None
        if side.state is LinkState.ENDED:
            self._wish.forget()
        self._send_stop()

    def _send_stop(self) -> None:
        """Send Stop where it is due; the lock is held."""
        if self._side.state is LinkState.JOINED:
            asked_ns = self._wish.due(self._run_here)
            if asked_ns is not None:
                self._send(ScreenSide.stop(asked_ns))

    def _note_failed(self, place: Address, outcome: CallOutcome, why: str) -> None:  # noqa: ARG002
        """A call to where the station was last met came to nothing."""
        with self._lock:
            if self._outgoing is not None:
                return  # it is being joined elsewhere
            if outcome is CallOutcome.FALSE and why == phrase("swapped"):
                self._side.state, self._side.why = LinkState.REFUSED, why
            else:
                self._side.on_lost(why)
        self._on_news()

    def _note_refused(self, why: str) -> None:
        with self._lock:
            self._side.state, self._side.why = LinkState.REFUSED, why
        self._on_news()

    def _note_lost(self, why: str) -> bool:
        """The link is down; whether it had been up."""
        with self._lock:
            was_up = self._lost_ns is None
            self._side.on_lost(why)
            if was_up:
                self._lost_ns = now_ns()
            self._outgoing, self._run_here = None, ""
            self._wish.on_break()
            for asked in self._asked:
                self._side.answers.append(_no(asked, "not_answered"))
            self._asked.clear()
        self._on_news()
        return was_up


async def _send_all(connection: ClientConnection, outgoing: asyncio.Queue[bytes]) -> None:
    with contextlib.suppress(ConnectionClosed):
        while True:
            await connection.send(await outgoing.get())


def _no(asked: int, key: str) -> Answered:
    return Answered(id=asked, done=False, why=phrase(key))
