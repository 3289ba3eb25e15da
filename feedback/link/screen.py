"""One screen or console as the station's link holds it."""

from __future__ import annotations

import asyncio

from feedback.link.conversation import Asker, StationSide
from feedback.link.outbox import Outbox
from feedback.link.transport import GuardedConnection


class Screen:
    """One connection: its conversation, and what is still to be sent."""

    def __init__(self, number: int, connection: GuardedConnection, side: StationSide) -> None:
        self.number = number
        self.connection = connection
        self.side = side
        self.outbox = Outbox()
        self.wake = asyncio.Event()
        self.goodbye = False

    @property
    def asker(self) -> Asker:
        """Who speaks there."""
        return Asker(role=self.side.role, name=self.side.name, connection=self.number)

    @property
    def broke(self) -> bool:
        """Whether it went without a word from either end."""
        said = self.goodbye or self.connection.protocol.close_rcvd is not None
        return not said
