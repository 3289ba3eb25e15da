"""A screen's end of its connection as a pure state machine: what it knows, what it says."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import msgspec

from feedback.link.protocol import encode
from feedback.texts.runner import words
from shared.changes import Answered
from shared.messages import (
    PROTOCOL,
    Briefing,
    FromStation,
    Goodbye,
    Hello,
    Ping,
    Point,
    Points,
    Refused,
    Request,
    Snapshot,
    Stop,
    Welcome,
)
from shared.pictures import CheckReport, Picture, ReplayEnd, ReplayPicture
from shared.plain_text import plain_message

MOST_KEPT: Final = 20_000
"""Points and answers that are kept for a reader that does not take them."""
MOST_REPLAYED: Final = 3_000
"""Pictures of a replay that are kept for a reader that does not take them: 20 s at 120 a second."""
_FROM_STATION: Final = msgspec.msgpack.Decoder(FromStation)


class LinkState(StrEnum):
    """How a screen stands with the station."""

    CONNECTING = "connecting"
    JOINED = "joined"
    REFUSED = "refused"
    ENDED = "ended"
    """The station said goodbye."""
    LOST = "lost"
    """The connection broke, or what came was not from a station of ours."""


@dataclass(frozen=True, slots=True)
class LinkStatus:
    """What a screen knows of the station at one moment."""

    state: LinkState
    why: str
    """In the station's words where it gave some."""
    snapshot: Snapshot | None
    """The newest; each replaces the one before."""
    heard_ns: int | None
    """When the station was last heard; None before the first time."""
    stop_asked: bool
    """Whether Stop was asked for here."""
    briefing: Briefing | None = None
    picture: Picture | None = None
    """The newest."""
    report: CheckReport | None = None
    """The newest."""
    stop_waits: bool = False
    """Stop was asked for here, and the station has not shown yet that it stopped."""
    lost_ns: int | None = None
    """Since when the link is down, for one that joins again by itself; None while it is up."""


class ScreenSide:
    """The screen's end of its connection."""

    def __init__(self, token: str, role: str) -> None:
        self.state = LinkState.CONNECTING
        self.why = ""
        """What the station said when it refused or ended, or why the link was lost."""
        self.newest: Snapshot | None = None
        self.briefing: Briefing | None = None
        self.picture: Picture | None = None
        self.report: CheckReport | None = None
        self.points: deque[Point] = deque(maxlen=MOST_KEPT)
        """Not taken yet, oldest first."""
        self.answers: deque[Answered] = deque(maxlen=MOST_KEPT)
        """Not taken yet, oldest first."""
        self.replay: deque[ReplayPicture | ReplayEnd] = deque(maxlen=MOST_REPLAYED)
        """Not taken yet, oldest first."""
        self.seen = 0
        """Number of the newest point."""
        self._token = token
        self._role = role

    def hello(self) -> bytes:
        """The first thing to send; after a break it tells what this end has already."""
        run = "" if self.briefing is None else self.briefing.run
        return encode(
            Hello(protocol=PROTOCOL, token=self._token, role=self._role, run=run, seen=self.seen)
        )

    def again(self, token: str) -> None:
        """Begin anew after a break, with what came before kept."""
        self.state, self.why, self._token = LinkState.CONNECTING, "", token

    def on_bytes(self, data: bytes | str) -> None:
        """Take in one message of the station. Any bytes at all may come in."""
        if self.state not in (LinkState.CONNECTING, LinkState.JOINED):
            return
        try:
            message = _FROM_STATION.decode(data.encode() if isinstance(data, str) else data)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            self.on_lost("what came was not a message of the station")
            return
        if not isinstance(message, Points):  # its names are looked up and never shown
            plain_message(message)
        match message:
            case Refused(why=why):
                self.state, self.why = LinkState.REFUSED, why
            case Goodbye(why=why):
                self.state, self.why = LinkState.ENDED, why
            case Welcome(protocol=protocol):
                if protocol == PROTOCOL:
                    self.state = LinkState.JOINED
                else:
                    self.state = LinkState.REFUSED
                    self.why = words("refuse_protocol", theirs=PROTOCOL, ours=protocol)
            case _ if self.state is LinkState.CONNECTING:
                self.on_lost("something else came before the welcome")
            case _:
                self._take(message)

    def _take(self, message: FromStation) -> None:
        match message:
            case Briefing():
                if self.briefing is not None and self.briefing.run != message.run:
                    self.newest, self.picture, self.seen = None, None, 0
                    self.points.clear()
                self.briefing = message
            case Snapshot():
                if self.newest is None or message.number >= self.newest.number:
                    self.newest = message
            case Points(points=points):
                fresh = [point for point in points if point.number > self.seen]
                if fresh:
                    self.seen = fresh[-1].number
                    self.points.extend(fresh)
            case Picture():
                self.picture = message
            case CheckReport():
                self.report = message
            case Answered():
                self.answers.append(message)
            case ReplayPicture() | ReplayEnd():
                self.replay.append(message)

    def on_lost(self, why: str) -> None:
        """The connection broke; an end that was told before stands."""
        if self.state in (LinkState.CONNECTING, LinkState.JOINED):
            self.state, self.why = LinkState.LOST, why

    @staticmethod
    def stop(asked_ns: int) -> bytes:
        """The bytes that ask for Stop."""
        return encode(Stop(asked_ns=asked_ns))

    @staticmethod
    def ask(request: Request) -> bytes:
        """The bytes that ask for something else."""
        return encode(request)

    @staticmethod
    def ping(at_ns: int) -> bytes:
        """The bytes of a sign of life."""
        return encode(Ping(at_ns=at_ns))
