"""A processor for the measuring alone, on a computer that has two or three of them (Linux).

A frame is measured by threads that hand on to each other some sixteen times. Each time the system
may place the next one behind whatever just runs: a screen that paints, a picture that is packed.
On two processors that cost a tenth of the model's time at the median, and made half the frames
late at 60 a second. So one processor is kept for the measuring, and all else that this program
begins keeps off it. Programs of others are left alone: the system moves them by itself.
"""

from __future__ import annotations

import contextlib
import os
import socket
import sys
import threading
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

Processors = frozenset[int]
_FEWEST: Final = 2
_MOST: Final = 3
"""With more there is always a free one, and the pose model itself takes several (half of them)."""
_TAKEN: Final = "\0beltside measuring"
"""A name that the system keeps for one process at a time, and frees however that ends."""
_TASKS: Final = Path("/proc/self/task")


@dataclass(frozen=True, slots=True)
class Share:
    """Who runs where."""

    measuring: Processors
    rest: Processors


def share_out(processors: Processors) -> Share | None:
    """The last one for the measuring; None where there are too few, or enough for all.

    The first one is busiest with what the system does itself.
    """
    if not _FEWEST <= len(processors) <= _MOST:
        return None
    last = frozenset({max(processors)})
    return Share(measuring=last, rest=processors - last)


def threads() -> frozenset[int]:
    """The system's numbers of this process's threads; empty where it does not tell."""
    if sys.platform != "linux":
        return frozenset()
    return frozenset(int(task.name) for task in _TASKS.iterdir())


class Reserve:
    """Keeps a processor for the measuring, until it is closed; one program at a time can.

    What the thread that made it begins meanwhile, threads and programs, keeps off that processor.
    """

    def __init__(self) -> None:
        self.share: Share | None = None
        """None where nothing was reserved: everything runs anywhere."""
        self._everywhere: Processors = frozenset()
        self._name: socket.socket | None = None
        self._placed: set[int] = set()
        if sys.platform == "linux":
            self._everywhere = frozenset(os.sched_getaffinity(0))
            share = share_out(self._everywhere)
            if share is not None and self._take_name():
                self.share = share
                self.put_aside([threading.get_native_id()])

    def _take_name(self) -> bool:
        name = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        try:
            name.bind(_TAKEN)
        except OSError:
            name.close()
            return False
        self._name = name
        return True

    def put_first(self, numbers: Iterable[int]) -> None:
        """Have these threads of this process measure; numbers as :func:`threads` has them."""
        if self.share is not None:
            self._place(numbers, self.share.measuring)

    def put_aside(self, numbers: Iterable[int]) -> None:
        """Have these threads of this process keep off."""
        if self.share is not None:
            self._place(numbers, self.share.rest)

    def put_process_aside(self, process: int) -> None:
        """Have a program that was begun before keep off, with all its threads."""
        if self.share is not None and sys.platform == "linux":
            with contextlib.suppress(OSError):  # it has just ended
                tasks = Path(f"/proc/{process}/task").iterdir()
                _keep([int(task.name) for task in tasks], self.share.rest)

    def _place(self, numbers: Iterable[int], processors: Processors) -> None:
        placed = threads().intersection(numbers)
        self._placed |= placed
        _keep(placed, processors)

    def close(self) -> None:
        """Let all run anywhere again. May be called again."""
        self.share = None
        _keep(threads() & self._placed, self._everywhere)
        self._placed.clear()
        if self._name is not None:
            self._name.close()
            self._name = None


def _keep(numbers: Iterable[int], processors: Processors) -> None:
    if sys.platform == "linux":
        for number in numbers:
            with contextlib.suppress(OSError):  # one that has just ended
                os.sched_setaffinity(number, processors)
