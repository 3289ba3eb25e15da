"""The latched stop: set once from any thread, never undone, read by the work thread."""

from __future__ import annotations

import threading

from feedback.session.interface import StopAsked


class StopLatch:
    """The first request to stop counts; later ones change nothing."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._asked: StopAsked | None = None
        self._set = threading.Event()

    def ask(self, stop: StopAsked) -> bool:
        """Latch a stop; False when one was latched before."""
        with self._lock:
            if self._asked is not None:
                return False
            self._asked = stop
        self._set.set()
        return True

    @property
    def asked(self) -> StopAsked | None:
        """The request that was latched, None before."""
        return self._asked

    def wait(self, timeout_s: float) -> bool:
        """Wait for a stop; whether there is one."""
        return self._set.wait(timeout_s)
