"""One screen or console as the station's link holds it."""

from __future__ import annotations

import asyncio

from websockets.asyncio.server import ServerConnection

from feedback.link.conversation import Asker, StationSide
from feedback.link.door import RemoteSide
from feedback.link.outbox import Outbox

Side = StationSide | RemoteSide


class Screen:
    """One connection: its conversation, and what is still to be sent."""

    def __init__(self, number: int, connection: ServerConnection, side: Side) -> None:
        self.number = number
        self.connection = connection
        self.side = side
        self.outbox = Outbox()
        self.wake = asyncio.Event()
        self.goodbye = False
        self.removed = False

    @property
    def asker(self) -> Asker:
        """Who speaks there."""
        return Asker(role=self.side.role, name=self.side.name, connection=self.number)

    @property
    def broke(self) -> bool:
        """Whether it went without a word from either end."""
        said = self.goodbye or self.removed or self.connection.protocol.close_rcvd is not None
        return not said
