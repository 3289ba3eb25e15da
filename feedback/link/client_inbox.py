"""What came of a station and was not taken yet: the part that both kinds of link client share."""

from __future__ import annotations

import threading
from collections import deque
from typing import TypeVar

from feedback.link.client_state import ScreenSide
from shared.changes import Answered
from shared.messages import Point
from shared.pictures import ReplayEnd, ReplayPicture

T = TypeVar("T")


class ClientInbox:
    """Points, answers and replays wait here for the window, guarded by the link's lock."""

    def __init__(self, side: ScreenSide) -> None:
        self._lock = threading.Lock()
        self._side = side

    def take_points(self) -> tuple[Point, ...]:
        """The points that came since the last call, oldest first."""
        return self._taken(self._side.points)

    def take_answers(self) -> tuple[Answered, ...]:
        """The answers that came since the last call, oldest first."""
        return self._taken(self._side.answers)

    def take_replay(self) -> tuple[ReplayPicture | ReplayEnd, ...]:
        """What came of a replay since the last call, oldest first."""
        return self._taken(self._side.replay)

    def _taken(self, waiting: deque[T]) -> tuple[T, ...]:
        with self._lock:
            taken = tuple(waiting)
            waiting.clear()
            return taken
