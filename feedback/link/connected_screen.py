"""One screen or console as the station's link holds it."""

from __future__ import annotations

import asyncio

from feedback.link.outbox import Outbox
from feedback.link.protocol import Asker, StationSide
from feedback.link.transport import GuardedConnection
from shared.units import NS_PER_S


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

    def why_gone(self, now_ns: int) -> str:
        """What is known of its going, for the log."""
        protocol = self.connection.protocol
        silent_s = self.side.silent_ns(now_ns) / NS_PER_S
        late_s = self.side.longest_pause_ns / NS_PER_S
        heard = (
            f"last heard {silent_s:.2f} s before, the link itself late by {late_s:.2f} s at most"
        )
        if self.side.ended_by:
            return f"{heard}; ended by the station: {self.side.ended_by}"
        closed = protocol.close_rcvd
        if closed is not None:
            return f"{heard}; it closed the connection ({closed.code} {closed.reason})"
        return f"{heard}; the connection broke"
