"""The station's door to the network (pure): who comes in over TLS, and nothing for anybody else.

The first message is Approach (a paired console wants to take part) or PairStart (one wants to be
paired). Until a console has proved its key it gets a challenge, a step of the pairing or a refusal,
and not a word about the session. What comes after that is the same conversation as any screen's.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Final, Protocol

import msgspec
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from msgspec import Meta

from feedback.link.pairing import (
    Name,
    PairConfirm,
    PairDone,
    Paired,
    PairingDesk,
    PairShare,
    PairStart,
    StationExchange,
)
from feedback.link.protocol import (
    POLICY,
    PROTOCOL_ERROR,
    TOO_BIG,
    Answer,
    Close,
    Send,
)
from feedback.texts.network import phrase
from shared.messages import PROTOCOL, Refused, Role

LARGEST_AT_THE_DOOR_BYTES: Final = 512
WITHIN_NS: Final = 10_000_000_000
"""A console has this long from its connection to its proof, or to the end of a pairing; a person
has typed the code before the connection is made."""
NONCE_BYTES: Final = 32
_SIGNATURE_BYTES: Final = 64
_NORMAL: Final = 1000


class Approach(msgspec.Struct, frozen=True, kw_only=True, tag="approach"):
    """First message of a paired console."""

    protocol: int
    name: Name


class Challenge(msgspec.Struct, frozen=True, kw_only=True, tag="challenge"):
    """What the console is to sign; any name gets one, so that names cannot be found out."""

    nonce: Annotated[bytes, Meta(min_length=NONCE_BYTES, max_length=NONCE_BYTES)]


class Proof(msgspec.Struct, frozen=True, kw_only=True, tag="proof"):
    """The console's signature over challenge, certificate and name; its Hello comes next."""

    signature: Annotated[bytes, Meta(min_length=_SIGNATURE_BYTES, max_length=_SIGNATURE_BYTES)]


ToDoor = Approach | Proof | PairStart | PairConfirm
FromDoor = Challenge | PairShare | PairDone | Refused


class _AnyVersion(msgspec.Struct):
    """The part of a first message that must never change, so that any version can be told."""

    protocol: int


_TO_DOOR: Final = msgspec.msgpack.Decoder(ToDoor)
_FROM_DOOR: Final = msgspec.msgpack.Decoder(FromDoor)
_ANY_VERSION: Final = msgspec.msgpack.Decoder(_AnyVersion)
_ENCODER: Final = msgspec.msgpack.Encoder()
_UNREADABLE: Final = (msgspec.MsgspecError, UnicodeDecodeError, RecursionError)


def encode_at_door(message: ToDoor | FromDoor) -> bytes:
    """A message as it travels."""
    return _ENCODER.encode(message)


def decode_from_door(data: bytes | str) -> FromDoor | None:
    """What the station says before a console is in; None for anything else."""
    if isinstance(data, str):
        return None
    try:
        message: FromDoor = _FROM_DOOR.decode(data)
    except _UNREADABLE:
        return None
    return message


def sign(seed: bytes, challenge: Challenge, fingerprint: str, name: str) -> Proof:
    """The console's proof that it holds the key, for this station and this challenge alone."""
    key = Ed25519PrivateKey.from_private_bytes(seed)
    return Proof(signature=key.sign(_to_sign(challenge.nonce, fingerprint, name)))


@dataclass(frozen=True, slots=True)
class KeepConsole:
    """Keep this console in the list, under a free name, and then tell it ``done(name)``."""

    paired: Paired
    done: Callable[[str], bytes]


@dataclass(frozen=True, slots=True)
class Forward:
    """Hand this message of a console that has proved its key on to the station, as it is."""

    data: bytes | str


DoorAnswer = Answer | KeepConsole | Forward


class Inside(Protocol):
    """What a console speaks with once it is in: StationSide, or the way to it."""

    role: str

    @property
    def joined(self) -> bool:
        """Whether the console takes part now."""

    def on_bytes(self, data: bytes | str, now_ns: int) -> tuple[DoorAnswer, ...]:
        """Answer one message."""

    def on_tick(self, now_ns: int) -> tuple[DoorAnswer, ...]:
        """Notice silence."""

    def on_closed(self) -> None:
        """The connection is gone."""


class Forwarded:
    """Inside at the gateway: all goes on to the station, which looks after the rest."""

    role = Role.CONSOLE.value
    joined = True

    def on_bytes(self, data: bytes | str, now_ns: int) -> tuple[DoorAnswer, ...]:  # noqa: ARG002
        """Hand it on."""
        return (Forward(data),)

    def on_tick(self, now_ns: int) -> tuple[DoorAnswer, ...]:  # noqa: ARG002
        """Do nothing: the station notices silence."""
        return ()

    def on_closed(self) -> None:
        """Do nothing."""


class _Stage(StrEnum):
    WAITING = "waiting"
    CHALLENGED = "challenged"
    PAIRING = "pairing"
    INSIDE = "inside"
    ENDED = "ended"


class RemoteSide:
    """The station's end of one connection from the network; used like StationSide."""

    def __init__(
        self,
        desk: PairingDesk,
        key_of: Callable[[str], bytes | None],
        fingerprint: str,
        nonce: bytes,
        inside: Callable[[str, int], Inside] | None,
        now_ns: int,
        address: str = "",
    ) -> None:
        """``inside`` gives the conversation with an admitted console; None: only to be paired.

        ``address`` is where the console calls from, as people write it.
        """
        self._desk = desk
        self._key_of = key_of
        self._fingerprint = fingerprint
        self._challenge = Challenge(nonce=nonce)
        self._make_inside = inside
        self._since_ns = now_ns
        self._stage = _Stage.WAITING
        self._name = ""
        self.public_key = b""
        """Of the console, once it has proved that it holds the other half."""
        self._exchange: StationExchange | None = None
        self._inside: Inside | None = None
        self._address = address

    @property
    def role(self) -> str:
        """Empty until the console has joined; kept after the end."""
        return "" if self._inside is None else self._inside.role

    @property
    def name(self) -> str:
        """The console's, once it has proved it; else empty."""
        return "" if self._inside is None else self._name

    @property
    def joined(self) -> bool:
        """Whether the console takes part now."""
        return self._inside is not None and self._inside.joined

    def on_bytes(self, data: bytes | str, now_ns: int) -> tuple[DoorAnswer, ...]:
        """Answer one message. Any bytes at all may come in; nothing is raised."""
        if self._stage is _Stage.ENDED:
            return ()
        if self._inside is not None:
            return self._inside.on_bytes(data, now_ns)
        if isinstance(data, str):
            return self._end(PROTOCOL_ERROR, "text instead of a message")
        if len(data) > LARGEST_AT_THE_DOOR_BYTES:
            return self._end(TOO_BIG, "too long for a message at the door")
        try:
            message = _TO_DOOR.decode(data)
        except _UNREADABLE:
            return self._unreadable(data)
        match self._stage, message:
            case _Stage.WAITING, Approach() | PairStart() if message.protocol != PROTOCOL:
                return self._refuse_version(message.protocol)
            case _Stage.WAITING, Approach():
                return self._approach(message)
            case _Stage.WAITING, PairStart():
                return self._pair(message, now_ns)
            case _Stage.CHALLENGED, Proof():
                return self._prove(message, now_ns)
            case _Stage.PAIRING, PairConfirm():
                return self._confirm(message, now_ns)
        return self._refuse(phrase("order"))

    def on_tick(self, now_ns: int) -> tuple[DoorAnswer, ...]:
        """Notice silence; call it at least every 100 ms."""
        if self._inside is not None:
            return self._inside.on_tick(now_ns)
        if self._stage is not _Stage.ENDED and now_ns - self._since_ns > WITHIN_NS:
            return self._end(POLICY, "too slow at the door")
        return ()

    def on_closed(self) -> None:
        """The connection is gone; nothing more is answered."""
        self._stage = _Stage.ENDED
        if self._inside is not None:
            self._inside.on_closed()

    def _approach(self, approach: Approach) -> tuple[DoorAnswer, ...]:
        if self._make_inside is None:
            return self._refuse(phrase("no_session"))
        self._stage = _Stage.CHALLENGED
        self._name = approach.name
        return (Send(encode_at_door(self._challenge)),)

    def _prove(self, proof: Proof, now_ns: int) -> tuple[DoorAnswer, ...]:
        public = self._key_of(self._name)
        text = _to_sign(self._challenge.nonce, self._fingerprint, self._name)
        if public is None or not _verifies(public, proof.signature, text):
            return self._refuse(phrase("unpaired"))
        assert self._make_inside is not None  # noqa: S101 - else there was no challenge
        self._stage = _Stage.INSIDE
        self.public_key = public
        self._inside = self._make_inside(self._name, now_ns)
        return ()

    def _pair(self, start: PairStart, now_ns: int) -> tuple[DoorAnswer, ...]:
        why_not = self._desk.why_not(self._address, now_ns)
        self._exchange = self._desk.begin(start, now_ns, self._address)
        if self._exchange is None:
            return self._refuse(phrase(why_not or "order"))
        self._stage = _Stage.PAIRING
        return (Send(encode_at_door(PairShare(share=self._exchange.share))),)

    def _confirm(self, confirm: PairConfirm, now_ns: int) -> tuple[DoorAnswer, ...]:
        exchange = self._exchange
        assert exchange is not None  # noqa: S101 - the stage says so
        paired = self._desk.finish(exchange, confirm, now_ns)
        if paired is None:
            return self._refuse(phrase("code"))

        def done(name: str) -> bytes:
            return encode_at_door(self._desk.done(exchange, name))

        return (KeepConsole(paired, done), *self._end(_NORMAL, "paired"))

    def _unreadable(self, data: bytes) -> tuple[DoorAnswer, ...]:
        if self._stage is _Stage.WAITING:
            try:
                theirs = _ANY_VERSION.decode(data).protocol
            except _UNREADABLE:
                return self._refuse(phrase("order"))
            if theirs != PROTOCOL:
                return self._refuse_version(theirs)
        return self._refuse(phrase("order"))

    def _refuse_version(self, theirs: int) -> tuple[DoorAnswer, ...]:
        return self._refuse(phrase("protocol", theirs=theirs, ours=PROTOCOL))

    def _refuse(self, why: str) -> tuple[DoorAnswer, ...]:
        return (Send(encode_at_door(Refused(why=why))), *self._end(POLICY, why))

    def _end(self, code: int, why: str) -> tuple[DoorAnswer, ...]:
        self._stage = _Stage.ENDED
        return (Close(code, why),)


def _to_sign(nonce: bytes, fingerprint: str, name: str) -> bytes:
    return b"beltside console\0" + nonce + bytes.fromhex(fingerprint) + name.encode()


def _verifies(public: bytes, signature: bytes, text: bytes) -> bool:
    try:
        Ed25519PublicKey.from_public_bytes(public).verify(signature, text)
    except (InvalidSignature, ValueError):
        return False
    return True
