"""Leads a runner at home from page to page: one window that shows them and gives the answers."""

from __future__ import annotations

import contextlib
import threading
from queue import Empty, Queue
from typing import Final

from feedback.screens.home.pages import Busy, Page, Reply, Shown, What, line_of, reply_of
from feedback.screens.widgets.launch import ScreenProcess, spawn_pages
from feedback.terminal.output import check_output
from shared.closing import Closing

_LOOK_S: Final = 0.1
_END_S: Final = 2.0


class Pages(Closing):
    """The window. One that is closed answers every page with "left"."""

    def __init__(self, *, windowed: bool = False) -> None:
        """Open it. Raises UserError ``screen_unavailable``."""
        self._process: ScreenProcess = spawn_pages(windowed=windowed)
        self._replies: Queue[Reply] = Queue()
        self._number = 0
        self._answered = False
        """Some page was answered, so the window could be opened."""
        self._gone = threading.Event()
        threading.Thread(target=self._listen, name="pages", daemon=True).start()

    @property
    def open(self) -> bool:
        """Whether the window is still there."""
        return not self._gone.is_set()

    def ask(self, page: Page) -> Reply:
        """Show a page and wait for its answer.

        Raises UserError ``screen_unavailable`` when the window could not be opened at all, and
        BrokenPipeError once stdout is lost.
        """
        number = self.show(page)
        while True:
            with contextlib.suppress(Empty):
                reply = self._replies.get(timeout=_LOOK_S)
                self._answered = True
                if reply.number == number:
                    return reply
                continue
            check_output()
            if self._gone.is_set() and self._replies.empty():
                if not self._answered:
                    self._check()
                return Reply(number=number, what=What.LEFT)

    def show(self, page: Page) -> int:
        """Show a page and do not wait; returns its number."""
        self._number += 1
        pipe = self._process.stdin
        if pipe is not None:
            with contextlib.suppress(OSError, ValueError):  # the window is closed
                pipe.write(line_of(Shown(number=self._number, page=page)))
                pipe.flush()
        return self._number

    def busy(self, page: Busy) -> bool:
        """Show how far something is; True once the person has had enough of it."""
        self.show(page)
        left = self._gone.is_set()
        with contextlib.suppress(Empty):
            while True:
                left = self._replies.get_nowait().what is What.LEFT or left
        return left

    def close(self) -> None:
        """Close the window."""
        pipe = self._process.stdin
        if pipe is not None:
            with contextlib.suppress(OSError):
                pipe.close()
        self._process.end()

    def _listen(self) -> None:
        pipe = self._process.stdout
        if pipe is not None:
            for line in pipe:
                reply = reply_of(line)
                if reply is not None:
                    self._replies.put(reply)
        self._gone.set()

    def _check(self) -> None:
        """A window that ended with a failure has shown nothing: that is a problem to tell."""
        with contextlib.suppress(Exception):
            self._process.wait(_END_S)
        if self._process.problem() is not None:
            raise self._process.ended_early()
