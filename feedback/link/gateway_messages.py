"""What the station and its gateway tell each other: one line of JSON a message (pure)."""

from __future__ import annotations

from typing import Final

import msgspec

from feedback.link.pairing import Attempt
from shared.problems import Problem


class Begin(msgspec.Struct, frozen=True, kw_only=True, tag="begin"):
    """First message of the station."""

    folder: str
    """Where certificate and lists lie."""
    name: str
    port: int | None
    """None: the usual one, or any."""


class Relay(msgspec.Struct, frozen=True, kw_only=True, tag="relay"):
    """Let consoles in from now on: the station listens for them on this computer."""

    port: int
    secret: str


class Announce(msgspec.Struct, frozen=True, kw_only=True, tag="announce"):
    """Let the station be found."""


class OpenPairing(msgspec.Struct, frozen=True, kw_only=True, tag="open_pairing"):
    """A person wants a new code."""

    only_from: str = ""
    """The one address that may try it; empty: any."""


ToGateway = Begin | Relay | Announce | OpenPairing


class Began(msgspec.Struct, frozen=True, kw_only=True, tag="began"):
    """It listens."""

    port: int
    fingerprint: str


class Failed(msgspec.Struct, frozen=True, kw_only=True, tag="failed"):
    """It cannot, and ends."""

    problem: Problem


class Code(msgspec.Struct, frozen=True, kw_only=True, tag="code"):
    """The new code."""

    code: str


class PairedWith(msgspec.Struct, frozen=True, kw_only=True, tag="paired_with"):
    """A console was paired and is in the list."""

    name: str


class Status(msgspec.Struct, frozen=True, kw_only=True, tag="status"):
    """How it stands; twice a second, whatever strangers do, and when pairing is opened."""

    open: int
    """Connections."""
    proved: int
    """How many of them are of consoles that have proved their key."""
    code: str
    tries_left: int
    locked: bool
    attempts: tuple[Attempt, ...]
    problem: Problem | None


FromGateway = Began | Failed | Code | PairedWith | Status

_ENCODER: Final = msgspec.json.Encoder()
_TO_GATEWAY: Final = msgspec.json.Decoder(ToGateway)
_FROM_GATEWAY: Final = msgspec.json.Decoder(FromGateway)


def line_of(message: ToGateway | FromGateway) -> bytes:
    """The message as it travels, with its line end."""
    return _ENCODER.encode(message) + b"\n"


def to_gateway(line: bytes) -> ToGateway:
    """What the station says. Raises msgspec.MsgspecError for anything else."""
    message: ToGateway = _TO_GATEWAY.decode(line)
    return message


def from_gateway(line: bytes) -> FromGateway:
    """What the gateway says. Raises msgspec.MsgspecError for anything else."""
    message: FromGateway = _FROM_GATEWAY.decode(line)
    return message
