"""Pairing a console with a station by six digits (pure): SPAKE2, and proof of the key both ways.

The station shows six digits; whoever types them at a console proves by it to stand there. SPAKE2
(RFC 9382) turns them into a strong key without giving anybody a chance to try codes but one at a
time, against the station itself. Both sides put the fingerprint of the station's certificate into
it as they see it, so that nobody in the middle, who must show another certificate, can pair.

The package ``spake2`` computes the exchange, on Ed25519. It is older than the RFC: curve points and
transcript are its own, so it speaks with itself only. Confirmation follows RFC 9382, section 4.
"""

from __future__ import annotations

import hmac
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Final

import msgspec
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from msgspec import Meta
from spake2 import SPAKE2_A, SPAKE2_B, SPAKEError
from spake2.ed25519_basic import NotOnCurve

from shared.plain_text import plain_line

CODE_DIGITS: Final = 6
MOST_TRIES: Final = 5
MOST_TRIES_FROM_ONE: Final = 3
"""From one address: one computer alone cannot use a code up for all others."""
_MOST_TOLD: Final = 20
CODE_HOLDS_NS: Final = 120_000_000_000
MOST_NAME_LETTERS: Final = 40
SHARE_BYTES: Final = 33
_KEY_BYTES: Final = 32

_UNSEEN: Final = r"\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff"
Name = Annotated[
    str,
    Meta(
        min_length=1,
        max_length=MOST_NAME_LETTERS,
        pattern=rf"\A(?! )[^{_UNSEEN}]+(?<! )\Z",
    ),
]
"""What a console calls itself; nothing in it may be unseen or steer a terminal. A new name is held
to the whole of shared.plain_text besides, which has no pattern."""
Mac = Annotated[bytes, Meta(min_length=_KEY_BYTES, max_length=_KEY_BYTES)]
Share = Annotated[bytes, Meta(min_length=SHARE_BYTES, max_length=SHARE_BYTES)]
Entropy = Callable[[int], bytes]
"""Gives so many random bytes, such as os.urandom."""


class PairStart(msgspec.Struct, frozen=True, kw_only=True, tag="pair_start"):
    """First message of a console that wants to be paired."""

    protocol: int
    name: Name
    share: Share

    def __post_init__(self) -> None:
        if self.name != plain_line(self.name, MOST_NAME_LETTERS):
            raise ValueError("letters that cannot be seen in the name")


class PairShare(msgspec.Struct, frozen=True, kw_only=True, tag="pair_share"):
    """The station's part of the exchange."""

    share: Share


class PairConfirm(msgspec.Struct, frozen=True, kw_only=True, tag="pair_confirm"):
    """The console shows that it came to the same key: so it knew the code."""

    mac: Mac


class PairDone(msgspec.Struct, frozen=True, kw_only=True, tag="pair_done"):
    """The station shows the same, and keeps the console; the link is closed after it."""

    mac: Mac
    name: Name
    """The console's name from now on: another one may have had the one it asked for."""
    station: Annotated[str, Meta(max_length=128)]


@dataclass(frozen=True, slots=True)
class Paired:
    """A console that has shown that it knows the code."""

    name: str
    public_key: bytes
    """Ed25519, 32 bytes: with it the station knows the console again, and nothing more."""


class Attempt(msgspec.Struct, frozen=True):
    """A try at the code that did not come to its right end, or has not yet."""

    name: str
    """As it calls itself: anybody may call itself anything."""
    address: str


@dataclass(frozen=True, slots=True)
class PairingState:
    """How pairing stands at the station."""

    code: str
    """Empty while pairing is not open."""
    tries_left: int
    locked: bool
    """Too many wrong tries: a person at the station has to open it again."""
    attempts: tuple[Attempt, ...] = ()
    """At this code, oldest first."""


class PairingDesk:
    """The station's side: one code at a time, opened by a person, for all connections."""

    def __init__(self, fingerprint: str, station: str, entropy: Entropy) -> None:
        self._fingerprint = fingerprint
        self._station = station
        self._entropy = entropy
        self._code = ""
        self._opened_ns = 0
        self._attempts: list[Attempt] = []
        self._only_from = ""
        self._number = 0
        """Counts the codes: an exchange is worth nothing once its code has gone."""

    def open(self, now_ns: int, only_from: str = "") -> str:
        """Make a new code and let it be tried; the one before is worth nothing any more.

        ``only_from``: tries from any other address are refused and do not count.
        """
        number = int.from_bytes(self._entropy(16))
        self._code = f"{number % 10**CODE_DIGITS:0{CODE_DIGITS}d}"
        self._opened_ns = now_ns
        self._attempts = []
        self._only_from = only_from
        self._number += 1
        return self._code

    def close(self) -> None:
        """No code is taken any more."""
        self._code = ""
        self._number += 1

    def standing(self, now_ns: int) -> PairingState:
        """How it stands now."""
        tries = len(self._attempts)
        locked = tries >= MOST_TRIES
        code = self._code if not locked and self._is_fresh(now_ns) else ""
        told = tuple(self._attempts[:_MOST_TOLD])
        return PairingState(code, tries_left=MOST_TRIES - tries, locked=locked, attempts=told)

    def why_not(self, address: str, now_ns: int) -> str:
        """The phrase for whoever may try no code from this address now; empty: it may.

        ``address`` empty: it is not known.
        """
        if not self.standing(now_ns).code:
            return "pairing"
        if self._only_from and address != self._only_from:
            return "pairing_elsewhere"
        mine = sum(attempt.address == address for attempt in self._attempts)
        if address and mine >= MOST_TRIES_FROM_ONE and not self._only_from:
            return "pairing_too_often"
        return ""

    def begin(self, start: PairStart, now_ns: int, address: str = "") -> StationExchange | None:
        """Answer a console's first message; None while no code may be tried.

        Every exchange that begins counts as a wrong try until it has come to its right end, so
        that breaking off early gives nobody a try for nothing.
        """
        if self.why_not(address, now_ns):
            return None
        code = self._code
        self._attempts.append(Attempt(start.name, address))
        try:
            return StationExchange(code, self._fingerprint, start, self._entropy, self._number)
        except _BAD_SHARE:
            return None

    def finish(self, exchange: StationExchange, confirm: PairConfirm, now_ns: int) -> Paired | None:
        """The console, if it knew the code and that still holds; the code is used up by it."""
        holds = exchange.number == self._number and self._code and self._is_fresh(now_ns)
        right = exchange.confirms(confirm)
        if not (holds and right):
            return None
        self.close()
        self._attempts = []
        return Paired(exchange.name, exchange.public_key)

    def done(self, exchange: StationExchange, name: str) -> PairDone:
        """The last message, once the console is kept under ``name``."""
        mac = exchange.mac_of_station(name, self._station)
        return PairDone(mac=mac, name=name, station=self._station)

    def _is_fresh(self, now_ns: int) -> bool:
        return 0 <= now_ns - self._opened_ns < CODE_HOLDS_NS


class StationExchange:
    """One exchange, at the station. Raises for a share that is no point of the curve."""

    def __init__(
        self, code: str, fingerprint: str, start: PairStart, entropy: Entropy, number: int
    ) -> None:
        self.name = start.name
        self.number = number
        ids = _identities(fingerprint)
        side = SPAKE2_B(code.encode(), *ids, entropy_f=entropy)
        self.share: bytes = side.start()
        self._start = start
        self._keys = _Keys(side.finish(start.share))
        self._asked = False

    @property
    def public_key(self) -> bytes:
        """Of the console's key pair."""
        return public_key_of(self._keys.seed)

    def confirms(self, confirm: PairConfirm) -> bool:
        """Whether the console has the same key; a second question is never answered yes."""
        if self._asked:
            return False
        self._asked = True
        mac = self._keys.mac_of_console(self._start.share, self.share, self.name)
        return hmac.compare_digest(mac, confirm.mac)

    def mac_of_station(self, name: str, station: str) -> bytes:
        """Shows the console that the station has the same key."""
        return self._keys.mac_of_station(self._start.share, self.share, name, station)


@dataclass(frozen=True, slots=True)
class KeptPairing:
    """What a console keeps of a pairing."""

    name: str
    station: str
    seed: bytes
    """Of its Ed25519 key pair, 32 bytes; secret."""


class ConsoleExchange:
    """One exchange, at the console. ``fingerprint`` is of the certificate that it was shown."""

    def __init__(
        self, code: str, name: str, fingerprint: str, protocol: int, entropy: Entropy
    ) -> None:
        self._side = SPAKE2_A(code.encode(), *_identities(fingerprint), entropy_f=entropy)
        self._start = PairStart(protocol=protocol, name=name, share=self._side.start())
        self._theirs = b""
        self._keys: _Keys | None = None

    def start(self) -> PairStart:
        """The first message."""
        return self._start

    def on_share(self, share: PairShare) -> PairConfirm | None:
        """Answer the station's share; None if it is no point of the curve, or a second one."""
        if self._keys is not None:
            return None
        try:
            self._keys = _Keys(self._side.finish(share.share))
        except _BAD_SHARE:
            return None
        self._theirs = share.share
        mac = self._keys.mac_of_console(self._start.share, share.share, self._start.name)
        return PairConfirm(mac=mac)

    def on_done(self, done: PairDone) -> KeptPairing | None:
        """What to keep; None if it was not the station that showed the code."""
        if self._keys is None:
            return None
        mac = self._keys.mac_of_station(self._start.share, self._theirs, done.name, done.station)
        if not hmac.compare_digest(mac, done.mac):
            return None
        return KeptPairing(done.name, done.station, self._keys.seed)


class _Keys:
    """What both sides make of the shared secret."""

    def __init__(self, secret: bytes) -> None:
        keys = _derive(secret, b"confirmation", 2 * _KEY_BYTES)
        self._console, self._station = keys[:_KEY_BYTES], keys[_KEY_BYTES:]
        self.seed = _derive(secret, b"console key", _KEY_BYTES)

    def mac_of_console(self, first: bytes, second: bytes, name: str) -> bytes:
        return _mac(self._console, first, second, name.encode())

    def mac_of_station(self, first: bytes, second: bytes, name: str, station: str) -> bytes:
        return _mac(self._station, first, second, name.encode(), station.encode())


def public_key_of(seed: bytes) -> bytes:
    """The public half of the Ed25519 key pair of ``seed``, 32 bytes."""
    public = Ed25519PrivateKey.from_private_bytes(seed).public_key()
    return public.public_bytes(serialization.Encoding.Raw, serialization.PublicFormat.Raw)


_BAD_SHARE: Final = (SPAKEError, NotOnCurve, ValueError, AssertionError)
"""What the package raises for a share that is not one."""


def _identities(fingerprint: str) -> tuple[bytes, bytes]:
    """Who speaks with whom, as both must see it: console and station, by this certificate."""
    return f"beltside console to {fingerprint}".encode(), f"beltside {fingerprint}".encode()


def _derive(secret: bytes, what: bytes, length: int) -> bytes:
    return HKDF(hashes.SHA256(), length, salt=None, info=b"beltside " + what).derive(secret)


def _mac(key: bytes, *parts: bytes) -> bytes:
    """HMAC-SHA256 over the parts, each with its length before it."""
    text = b"".join(len(part).to_bytes(4) + part for part in parts)
    return hmac.digest(key, text, "sha256")
