"""What the loss of the runner's screen comes to: silence at once, and in a moment the end."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from typing import Final

from feedback.journal.entries import Entry, ProblemEntry
from feedback.screens.widgets.launch import ScreenProcess
from feedback.terminal.guard import quit_source
from shared.clock import now_ns
from shared.messages import StopReason
from shared.problems import describe

_SIGNAL_MAY_COME_S: Final = 0.2
_log = logging.getLogger("beltside")


class ScreenLoss:
    """With the runner's screen its Stop control has gone.

    A signal that asks all to end reaches the screen as well, and may be heard of there first: then
    it is no loss. What is known of it goes to the log and into the record.
    """

    def __init__(
        self,
        silence: Callable[[], None],
        stop: Callable[[StopReason, str], None],
        write: Callable[[Entry], None],
        signal_number: Callable[[], int | None],
    ) -> None:
        self._silence = silence
        self._stop = stop
        self._write = write
        self._signal_number = signal_number
        self._is_seen = False

    def seen(self, source: str, why: str, screen: ScreenProcess | None) -> None:
        """From any thread, and as often as it is seen; the first time counts."""
        self._silence()
        if self._is_seen:
            return
        self._is_seen = True
        if screen is not None:
            why = f"{why}; then: {screen.standing()}"
        # A thread of its own: the main thread or the link's may hang.
        ending = threading.Timer(_SIGNAL_MAY_COME_S, self._end, (source, why, screen))
        ending.daemon = True
        ending.start()

    def _end(self, source: str, why: str, screen: ScreenProcess | None) -> None:
        if (number := self._signal_number()) is not None:
            self._stop(StopReason.QUIT, quit_source(number))
            return
        if screen is not None:
            why = f"{why}; {_SIGNAL_MAY_COME_S:g} s later: {screen.standing()}"
            said = screen.said().strip()
            why = f"{why}; it said: {said}" if said else why
        _log.error("%s: %s", source, why)
        lost = describe("screen_lost", why)
        self._write(ProblemEntry(at_ns=now_ns(), problem=lost, over=False))
        self._stop(StopReason.SCREEN_LOST, source)
