"""A one-slot mailbox between two threads: the newest item wins, replaced ones are counted."""

from __future__ import annotations

import threading
from typing import Generic, TypeVar

T = TypeVar("T")


class Latest(Generic[T]):
    """Hand over only the newest item, so that a slow reader is never behind.

    ``put`` never blocks on the reader. An item that was replaced before anyone took it is
    counted in ``replaced``.
    """

    def __init__(self) -> None:
        self._condition = threading.Condition()
        self._item: T | None = None
        self._replaced = 0
        self._woken = False

    @property
    def replaced(self) -> int:
        """How many items were overwritten unread so far."""
        with self._condition:
            return self._replaced

    @property
    def unread(self) -> bool:
        """Whether an item waits that nobody has taken yet."""
        with self._condition:
            return self._item is not None

    def put(self, item: T) -> None:
        """Leave ``item`` for the reader, in place of any unread one."""
        with self._condition:
            if self._item is not None:
                self._replaced += 1
            self._item = item
            self._condition.notify()

    def wake(self) -> None:
        """Have a waiting ``take``, or the next one, return at once, with or without an item."""
        with self._condition:
            self._woken = True
            self._condition.notify()

    def take(self, timeout_s: float | None = None) -> T | None:
        """Take the newest item; None when none came within ``timeout_s`` seconds, or when woken."""
        with self._condition:
            if self._item is None:
                self._condition.wait_for(lambda: self._item is not None or self._woken, timeout_s)
            self._woken = False
            item, self._item = self._item, None
            return item

    def take_newer(self, item: T, timeout_s: float) -> T:
        """The next item, which then counts as having replaced ``item``; else ``item`` itself.

        The latter when none came within ``timeout_s`` seconds, or when woken.
        """
        newer = self.take(timeout_s)
        if newer is None:
            return item
        with self._condition:
            self._replaced += 1
        return newer
