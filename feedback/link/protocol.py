"""Who may say what on the link: both ends of one connection as pure state machines.

A transport feeds in bytes and the time and does what the answers say. Nothing here knows
sockets or threads, so the same rules can later serve encrypted links and other screens.
"""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from feedback.texts.runner import answer as answer_text
from shared.changes import Adjust, MoveBlock, Note, SetVolume, Undo
from shared.messages import (
    PROTOCOL,
    Confirm,
    FromScreen,
    FromStation,
    GoOn,
    Hello,
    Pause,
    Rating,
    Refused,
    Request,
    Role,
    Stop,
    Welcome,
)
from shared.pictures import (
    AskReplay,
    CheckDone,
    SaveReplay,
    SetEdges,
    WatchPictures,
)

_CHANGES: Final = (Adjust, Undo, MoveBlock, Note, SetVolume)
_PICTURES: Final = (WatchPictures, AskReplay, SaveReplay)
MAY_ASK: Final[dict[str, tuple[type[Request], ...]]] = {
    Role.RUNNER: (Confirm, Pause, GoOn, Rating),
    Role.PANEL: (Confirm, Pause, GoOn, Rating, *_CHANGES, *_PICTURES),
    # Nothing that sets a session going: a console does not see the belt and who stands there.
    Role.CONSOLE: (Pause, Rating, *_CHANGES, *_PICTURES),
    Role.SETUP: (WatchPictures, SetEdges, CheckDone),
}
"""What each role may ask for beside Stop, which anybody may who has joined."""
GETS_POINTS: Final = frozenset({Role.PANEL, Role.CONSOLE})
"""Roles that draw charts."""
LARGEST_FROM_SCREEN_BYTES: Final = 4096
"""What a screen says is short; anything longer is not from a screen of ours."""
HELLO_WITHIN_NS: Final = 2_000_000_000
SILENCE_NS: Final = 1_400_000_000
"""A joined screen that says nothing for this long counts as gone: with the tick of the
transport added, this keeps the promise of 1.5 s."""
REMOTE_SILENCE_NS: Final = 3_000_000_000
"""The same for a console elsewhere: the network may hold up a sign of life or two."""
LATE_TICK_NS: Final = 500_000_000
"""A longer pause between two ticks means that the station itself was held up; a screen is not
blamed for it."""
MOST_PER_SECOND: Final = 50
"""More messages than this in one second are not from a person or a timer of ours."""
PROTOCOL_ERROR: Final = 1002
POLICY: Final = 1008
TOO_BIG: Final = 1009
_NS_PER_S: Final = 1_000_000_000


class _AnyVersionHello(msgspec.Struct, tag="hello"):
    """The part of a hello that must never change, so that any version can be refused clearly."""

    protocol: int


class Vouch(msgspec.Struct, frozen=True, kw_only=True, tag="vouch"):
    """First message of the station's own gateway: what follows comes from this paired console."""

    secret: Annotated[str, Meta(max_length=128)]
    """That the station gave its gateway; no console ever has it."""
    name: Annotated[str, Meta(min_length=1, max_length=128)]


_FROM_SCREEN: Final = msgspec.msgpack.Decoder(FromScreen | Vouch)
_ANY_HELLO: Final = msgspec.msgpack.Decoder(_AnyVersionHello)
_ENCODER: Final = msgspec.msgpack.Encoder()


def encode(message: FromStation | FromScreen | Vouch) -> bytes:
    """A message as it travels."""
    return _ENCODER.encode(message)


@dataclass(frozen=True, slots=True)
class Asker:
    """Who asks for something."""

    role: str
    name: str = ""
    """Of a paired console; empty for a screen at the station."""
    connection: int = 0
    """Where an answer goes."""


@dataclass(frozen=True, slots=True)
class Send:
    """Send these bytes."""

    data: bytes


@dataclass(frozen=True, slots=True)
class Close:
    """Close this connection, after what was to be sent; ``why`` is for the journal."""

    code: int
    why: str


@dataclass(frozen=True, slots=True)
class Joined:
    """The screen has shown its token and takes part from now on."""

    role: str
    run: str = ""
    seen: int = 0
    """Of that run it has the points up to this number."""


@dataclass(frozen=True, slots=True)
class StopAsked:
    """Stop at once."""

    stop: Stop


@dataclass(frozen=True, slots=True)
class Asked:
    """The screen asks for something that its role may ask for."""

    request: Request


Answer = Send | Close | Joined | StopAsked | Asked


class Tokens:
    """The one-time tokens that were given out and not used yet, each for one role."""

    def __init__(self) -> None:
        self._roles: dict[str, str] = {}
        self.of_gateway = ""
        """With it the gateway vouches for consoles, as often as it likes; empty: there is none."""

    def is_gateway(self, secret: str) -> bool:
        """Whether this is the gateway's."""
        known = self.of_gateway.encode()
        return bool(known) and hmac.compare_digest(known, secret.encode())

    def add(self, token: str, role: str) -> None:
        """Let one screen of this role in with ``token``."""
        if role not in MAY_ASK:
            raise ValueError(f"unknown role {role}")
        self._roles[token] = role

    def spend(self, token: str, role: str) -> bool:
        """Use the token up; False, and nothing used up, if it is not one for this role."""
        given = token.encode()
        for known, known_role in tuple(self._roles.items()):  # another thread may add some
            if known_role == role and hmac.compare_digest(known.encode(), given):
                return self._roles.pop(known, None) is not None
        return False


class _Stage(StrEnum):
    WAITING = "waiting"
    JOINED = "joined"
    ENDED = "ended"


class StationSide:
    """The station's end of one connection.

    ``console`` is the name of a paired console that has proved its key already: it needs no token,
    and may be nothing but a console. Without a name it is a screen at the station, with a token;
    or the gateway, which then gives a name.
    """

    def __init__(self, tokens: Tokens, station: str, now_ns: int, console: str = "") -> None:
        self.role = ""
        """Empty until the screen has joined; kept after the end."""
        self.name = console
        """Of a paired console; empty for a screen at the station."""
        self.vouched = False
        """The gateway has given the name."""
        self._tokens = tokens
        self._station = station
        self._stage = _Stage.WAITING
        self._heard_ns = now_ns
        self._ticked_ns = now_ns
        self._second_ns = now_ns
        self._in_second = 0
        self.longest_pause_ns = 0
        """Between two ticks since the other end was last heard: how late the station itself was."""
        self.ended_by = ""
        """Why this end closed the connection, for the log; empty where it did not."""

    def silent_ns(self, now_ns: int) -> int:
        """How long ago the other end was last heard."""
        return now_ns - self._heard_ns

    @property
    def joined(self) -> bool:
        """Whether the screen takes part now."""
        return self._stage is _Stage.JOINED

    def on_bytes(self, data: bytes | str, now_ns: int) -> tuple[Answer, ...]:
        """Answer one message of the screen. Any bytes at all may come in; nothing is raised."""
        if self._stage is _Stage.ENDED:
            return ()
        if isinstance(data, str):
            return self._end(PROTOCOL_ERROR, "text instead of a message")
        if len(data) > LARGEST_FROM_SCREEN_BYTES:
            return self._end(TOO_BIG, "too long for a message of a screen")
        try:
            message = _FROM_SCREEN.decode(data)
        except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
            return self._malformed(data)
        self._heard_ns = now_ns
        self.longest_pause_ns = 0
        if self._stage is _Stage.WAITING:
            return self._first(message)
        # Stop comes before the count: however fast somebody hammers the key, it is heard.
        stop = (StopAsked(message),) if isinstance(message, Stop) else ()
        if isinstance(message, Hello | Vouch):
            return self._end(PROTOCOL_ERROR, "a second hello")
        if self._too_many(now_ns):
            return (*stop, *self._end(POLICY, "too many messages"))
        if isinstance(message, Request):
            if type(message) not in MAY_ASK[self.role]:
                return self._end(POLICY, f"a {self.role} may not ask for this")
            return (Asked(message),)
        return stop

    def on_tick(self, now_ns: int) -> tuple[Answer, ...]:
        """Notice silence; call it at least every 100 ms."""
        pause = now_ns - self._ticked_ns
        self._ticked_ns = now_ns
        self.longest_pause_ns = max(self.longest_pause_ns, pause)
        if pause > LATE_TICK_NS:
            self._heard_ns = min(now_ns, self._heard_ns + pause)
        silent = now_ns - self._heard_ns
        if self._stage is _Stage.WAITING and silent > HELLO_WITHIN_NS:
            return self._end(POLICY, "no hello")
        most_ns = REMOTE_SILENCE_NS if self.name else SILENCE_NS
        if self._stage is _Stage.JOINED and silent > most_ns:
            return self._end(POLICY, f"silent for {silent / _NS_PER_S:.1f} s")
        return ()

    def on_closed(self) -> None:
        """The connection is gone; nothing more is answered."""
        self._stage = _Stage.ENDED

    def _first(self, message: FromScreen | Vouch) -> tuple[Answer, ...]:
        if isinstance(message, Vouch) and not self.name:
            if not self._tokens.is_gateway(message.secret):
                return self._refuse(answer_text("refuse_token"))
            self.name, self.vouched = message.name, True
            return ()
        if not isinstance(message, Hello):
            return self._refuse(answer_text("refuse_hello"))
        if message.protocol != PROTOCOL:
            return self._refuse_version(message.protocol)
        if message.role not in MAY_ASK:
            return self._refuse(answer_text("refuse_role"))
        if self.name and message.role != Role.CONSOLE:
            return self._refuse(answer_text("refuse_role"))
        if not self.name and not self._tokens.spend(message.token, message.role):
            return self._refuse(answer_text("refuse_token"))
        self._stage = _Stage.JOINED
        self.role = message.role
        welcome = Welcome(protocol=PROTOCOL, station=self._station)
        return (Send(encode(welcome)), Joined(message.role, message.run, message.seen))

    def _malformed(self, data: bytes) -> tuple[Answer, ...]:
        if self._stage is _Stage.WAITING:
            # The hello of another version may have other fields; say so rather than "malformed".
            try:
                protocol = _ANY_HELLO.decode(data).protocol
            except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError):
                return self._refuse(answer_text("refuse_hello"))
            if protocol != PROTOCOL:
                return self._refuse_version(protocol)
            return self._refuse(answer_text("refuse_hello"))
        return self._end(PROTOCOL_ERROR, "not a message of ours")

    def _refuse_version(self, theirs: int) -> tuple[Answer, ...]:
        return self._refuse(answer_text("refuse_protocol", theirs=theirs, ours=PROTOCOL))

    def _refuse(self, why: str) -> tuple[Answer, ...]:
        return (Send(encode(Refused(why=why))), *self._end(POLICY, why))

    def _end(self, code: int, why: str) -> tuple[Answer, ...]:
        self._stage = _Stage.ENDED
        self.ended_by = why
        return (Close(code, why),)

    def _too_many(self, now_ns: int) -> bool:
        if now_ns - self._second_ns >= _NS_PER_S:
            self._second_ns = now_ns
            self._in_second = 0
        self._in_second += 1
        return self._in_second > MOST_PER_SECOND
