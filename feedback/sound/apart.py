"""Runs the calls into the sound library in a thread of their own, with priority and a time limit.

A sound server that hangs makes the library hang with it, and must not take the program along.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import sys
import threading
from collections.abc import Callable
from concurrent.futures import Future
from typing import Final

_PRIORITY: Final = 5
"""Low among real-time threads (1 to 99): above ordinary work, under the sound server's own."""


def run_apart(work: Callable[[], None], limit_s: float) -> None:
    """Run ``work`` and raise what it raises; TimeoutError when it takes longer than ``limit_s``.

    Threads that the library starts meanwhile inherit the priority. On systems other than Linux
    ``work`` simply runs here: their audio threads have priority by themselves, and Windows ties
    some sound devices to the thread that opened them.
    """
    if sys.platform != "linux":
        work()
        return
    outcome: Future[None] = Future()

    def run() -> None:
        # A block is due every few ms and takes a tenth of one to fill: a busy computer should
        # not make it late. Not every user may ask for this.
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(_PRIORITY))
        try:
            work()
        except Exception as error:  # noqa: BLE001 - raised again in the calling thread
            outcome.set_exception(error)
        else:
            outcome.set_result(None)

    threading.Thread(target=run, name="sound-library", daemon=True).start()
    try:
        outcome.result(limit_s)
    except TimeoutError:
        _leave_without_goodbye()
        raise


def _leave_without_goodbye() -> None:
    """Keep the library from closing a device that hangs when the program ends."""
    sounddevice = sys.modules.get("sounddevice")
    if sounddevice is not None:
        atexit.unregister(sounddevice._exit_handler)
