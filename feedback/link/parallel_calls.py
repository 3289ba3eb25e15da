"""Calls a station at several places at once, until one shows its certificate and takes part."""

from __future__ import annotations

import asyncio
import contextlib
import random
from collections.abc import Callable
from types import TracebackType
from typing import Final

from websockets.asyncio.client import ClientConnection
from websockets.exceptions import WebSocketException

from feedback.link.address import Address
from feedback.link.connect import Swapped, dial, plain_why, reach
from feedback.link.reconnect import CallOutcome, Calls
from feedback.texts.network import phrase
from shared.clock import now_ns
from shared.units import NS_PER_S

_LOOK_AGAIN_NS: Final = NS_PER_S // 4
"""How soon a newly announced place is taken in."""
_MOST_OPENED: Final = 8
"""Connections with the right certificate that wait for their turn."""
_SYSTEM_RANDOM: Final = random.SystemRandom()
"""Of its own, so that nobody's seed is touched from this thread."""


def spread() -> float:
    """Not all at the same moment: many consoles may have lost the station together."""
    return _SYSTEM_RANDOM.uniform(0.7, 1)


class Caller:
    """At work while it is entered; nothing is sent to a place without the right certificate."""

    def __init__(
        self,
        calls: Calls,
        places: Callable[[], tuple[Address, ...]],
        trusted: bytes,
        on_failed: Callable[[Address, CallOutcome, str], None],
    ) -> None:
        """``places`` says where it may be, where it was last met first.

        ``on_failed`` is told why a call to the place where it was last met came to nothing.
        """
        self._calls, self._places, self._trusted = calls, places, trusted
        self._on_failed = on_failed
        self._opened: asyncio.Queue[tuple[Address, ClientConnection]] = asyncio.Queue()
        self._ended = asyncio.Event()
        self._tasks: set[asyncio.Task[None]] = set()
        self._running: list[asyncio.Task[None]] = []

    async def __aenter__(self) -> Caller:
        self._calls.begin(now_ns())
        self._running.append(asyncio.create_task(self._run()))
        return self

    async def __aexit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        await self.hang_up()

    async def next(self) -> tuple[Address, ClientConnection]:
        """The next that shows the right certificate: to be spoken to, and closed."""
        opening = asyncio.create_task(self._opened.get())
        try:
            await asyncio.wait({opening, *self._running}, return_when=asyncio.FIRST_COMPLETED)
            if not opening.done():
                self._running[0].result()  # it never ends but by a failure
        except BaseException:
            if not opening.cancel():
                opening.result()[1].transport.abort()
            raise
        return await opening

    def failed(self, place: Address, outcome: CallOutcome) -> None:
        """One that was given by :meth:`next` came to nothing."""
        self._calls.ended(place, outcome, now_ns(), spread())
        self._ended.set()

    async def hang_up(self) -> None:
        """Drop all calls, without a word."""
        tasks = [*self._running, *self._tasks]
        for task in tasks:
            task.cancel()
        await asyncio.gather(*tasks, return_exceptions=True)
        while not self._opened.empty():
            self._opened.get_nowait()[1].transport.abort()

    async def _run(self) -> None:
        calls = self._calls
        while True:
            self._ended.clear()
            calls.offer(self._places())
            for place in calls.due(now_ns()):
                task = asyncio.create_task(self._call(place))
                self._tasks.add(task)
                task.add_done_callback(self._tasks.discard)
            at_ns = now_ns()
            due_ns = calls.next_ns(at_ns)
            wait_ns = _LOOK_AGAIN_NS if due_ns is None else min(_LOOK_AGAIN_NS, due_ns - at_ns)
            with contextlib.suppress(TimeoutError):
                await asyncio.wait_for(self._ended.wait(), wait_ns / NS_PER_S)

    async def _call(self, place: Address) -> None:
        outcome, why = CallOutcome.NO_ANSWER, str(phrase("no_answer"))
        try:
            reached = await reach(place)
            outcome = CallOutcome.SILENT
            connection = await dial(place, self._trusted, reached)
        except Swapped:
            outcome, why = CallOutcome.FALSE, phrase("swapped")
        except (OSError, TimeoutError, ValueError, WebSocketException) as error:
            # ValueError: a typed name that is none.
            why = plain_why(error)
            if why == phrase("not_a_station"):
                outcome = CallOutcome.FALSE
        else:
            if self._opened.qsize() < _MOST_OPENED:
                self._opened.put_nowait((place, connection))
                return
            connection.transport.abort()
            outcome = CallOutcome.BROKE
        first = place in self._calls.met[:1]
        self.failed(place, outcome)
        if first:
            self._on_failed(place, outcome, why)
