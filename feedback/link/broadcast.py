"""What the station gives out to its screens; it comes from any thread and goes out in one."""

from __future__ import annotations

import threading
from collections.abc import Callable

from feedback.link.outbox import Outbox, Ring
from feedback.link.protocol import GETS_POINTS, Joined, encode
from shared.messages import Briefing, Point, Snapshot
from shared.pictures import CheckReport, Picture


class Broadcast:
    """The newest of everything. ``wake`` is called when there is something new to give out."""

    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake
        self._lock = threading.Lock()
        self._newest: bytes | None = None
        self._fresh: bytes | None = None
        """The newest, while it is not handed out yet."""
        self._picture: bytes | None = None
        self._briefing: Briefing | None = None
        self._fresh_briefing: bytes | None = None
        self._ring = _SafeRing()

    def publish(self, message: Snapshot | CheckReport) -> None:
        """Replace what was to be shown."""
        data = encode(message)
        with self._lock:
            self._newest = self._fresh = data
        self._wake()

    def show(self, picture: Picture) -> None:
        """Replace the picture."""
        data = encode(picture)
        with self._lock:
            self._picture = data
        self._wake()

    def brief(self, briefing: Briefing) -> None:
        """What every screen is told: on joining, or now if it has joined already."""
        with self._lock:
            self._briefing = briefing
            self._fresh_briefing = encode(briefing)
        self._wake()

    def add_points(self, points: tuple[Point, ...]) -> None:
        """Newer points for the charts."""
        if points:
            self._ring.add(points)
            self._wake()

    def take(self) -> tuple[bytes | None, bytes | None, bytes | None]:
        """What is new since the last time: briefing, snapshot or report, picture."""
        with self._lock:
            taken = self._fresh_briefing, self._fresh, self._picture
            self._fresh_briefing, self._fresh, self._picture = None, None, None
            return taken

    def welcome(self, outbox: Outbox, joined: Joined) -> None:
        """Lay out for a screen that has joined what it is to get first."""
        with self._lock:
            outbox.snapshot, briefing = self._newest, self._briefing
        if briefing is not None:
            outbox.brief(encode(briefing))
        if joined.role in GETS_POINTS:
            same = briefing is not None and joined.run == briefing.run
            outbox.seen = joined.seen if same else 0

    def next_for(self, outbox: Outbox) -> bytes | None:
        """The next message for one screen; None when it has everything."""
        # Without the lock: a replay makes its pictures while it is asked for the next one.
        return outbox.next(self._ring)


class _SafeRing(Ring):
    """Points come in one thread and go out in another."""

    def __init__(self) -> None:
        super().__init__()
        self._lock = threading.Lock()

    def add(self, points: tuple[Point, ...]) -> None:
        with self._lock:
            super().add(points)

    def after(self, number: int) -> tuple[Point, ...]:
        with self._lock:
            return super().after(number)
