"""The guard of the link's thread: what fails there is told as a problem, and the link goes on."""

from __future__ import annotations

import threading
import traceback
from collections.abc import Callable, Coroutine

from shared.language import told
from shared.problems import Problem, describe


class Faults:
    """Runs things and keeps the newest failure that should not have been."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._problem: Problem | None = None

    def problem(self) -> Problem | None:
        """The newest, from any thread."""
        with self._lock:
            return self._problem

    def call(self, callback: Callable[[], None]) -> None:
        """Call it; the station's mistake must not end the link."""
        try:
            callback()
        except Exception as error:  # noqa: BLE001 - kept as a problem
            self.keep(error)

    async def guarded(self, work: Coroutine[None, None, None]) -> None:
        """Await it; what fails in a task would be lost there."""
        try:
            await work
        except Exception as error:  # noqa: BLE001 - kept as a problem
            self.keep(error)

    def keep(self, error: Exception) -> None:
        """Keep a failure."""
        details = "".join(traceback.format_exception(error))
        with self._lock:
            self._problem = describe("worker_failed", details=details, part=told("the link"))
