"""What is still to be sent to one screen, and in which order (pure)."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from itertools import islice
from typing import Final

from feedback.link.protocol import encode
from shared.changes import Answered
from shared.messages import Point, Points
from shared.pictures import ReplayEnd, ReplayPicture
from shared.units import NS_PER_S

MOST_POINTS: Final = 20_000
"""Some ten minutes of running with all measures of the side view."""
MOST_AT_ONCE: Final = 1_000
"""Points in one message; they take about 80 bytes each."""
MOST_ANSWERS: Final = 64
EARLY: Final = 0.8
"""A picture may come this share of its interval after the one before: cameras are never even."""

Replay = Iterator[ReplayPicture | ReplayEnd]


class Ring:
    """The newest points of the run, which screens may still want."""

    def __init__(self) -> None:
        self._points: deque[Point] = deque(maxlen=MOST_POINTS)

    def add(self, points: tuple[Point, ...]) -> None:
        """Take newer points in; their numbers follow those before."""
        self._points.extend(points)

    @property
    def newest(self) -> int:
        """Number of the newest; 0 while there is none."""
        return self._points[-1].number if self._points else 0

    def after(self, number: int) -> tuple[Point, ...]:
        """The oldest points after ``number``, as many as one message takes."""
        if not self._points:
            return ()
        start = max(0, number + 1 - self._points[0].number)
        return tuple(islice(self._points, start, start + MOST_AT_ONCE))


class Outbox:
    """Answers first, then points, the newest snapshot, the newest picture, and a replay last.

    Snapshots and pictures replace the one before that was not sent yet, so that a slow reader
    gets fewer of them and never old ones; points wait in the ring. Nothing grows with the time
    that a reader does not read.
    """

    def __init__(self) -> None:
        self.snapshot: bytes | None = None
        self.most_pictures_per_s = 0.0
        self.seen: int | None = None
        """Number of the newest point that was sent; None for a screen that gets none."""
        self._first: deque[bytes] = deque(maxlen=MOST_ANSWERS)
        self._picture: bytes | None = None
        self._picture_ns: int | None = None
        self._replay: Replay | None = None

    def brief(self, briefing: bytes) -> None:
        """What comes before everything else."""
        self._first.appendleft(briefing)

    def answer(self, answer: Answered) -> None:
        """Have an answer sent."""
        self._first.append(encode(answer))

    def replay(self, replay: Replay) -> None:
        """Have a replay sent, in place of one that is under way."""
        self._replay = replay

    def wants_picture(self, now_ns: int) -> bool:
        """Whether a picture is due for this screen."""
        if self.most_pictures_per_s <= 0:
            return False
        if self._picture_ns is None:
            return True
        return now_ns - self._picture_ns >= EARLY * NS_PER_S / self.most_pictures_per_s

    def picture(self, picture: bytes, now_ns: int) -> None:
        """Have a picture sent in place of one that waits."""
        self._picture, self._picture_ns = picture, now_ns

    def next(self, ring: Ring) -> bytes | None:
        """The next message to send; None when there is nothing."""
        if self._first:
            return self._first.popleft()
        if self.seen is not None and self.seen < ring.newest:
            points = ring.after(self.seen)
            self.seen = points[-1].number
            return encode(Points(points=points))
        if self.snapshot is not None:
            snapshot, self.snapshot = self.snapshot, None
            return snapshot
        if self._picture is not None:
            picture, self._picture = self._picture, None
            return picture
        if self._replay is not None:
            part = next(self._replay, None)
            if part is not None:
                return encode(part)
            self._replay = None
        return None
