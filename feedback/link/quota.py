"""How much one connection may send, and how many connections there may be (pure).

What somebody who has proved nothing may send is what a pairing or a proof takes, and no more: a
connection that sends more is cut off before its bytes are looked at. Places for those who have
proved their key are apart from the places of those who have not, and there the oldest gives way
to the newest: whoever opens connections and says nothing keeps nobody out.
"""

from __future__ import annotations

import ipaddress
from collections import Counter, OrderedDict
from dataclasses import dataclass
from typing import Final

from shared.units import NS_PER_S

MOST_UNPROVED: Final = 32
MOST_UNPROVED_FROM_ONE: Final = 16
MOST_PROVED: Final = 32
PER_SECOND: Final = 40.0
PER_SECOND_FROM_ONE: Final = 10.0
BURST: Final = 60.0
BURST_FROM_ONE: Final = 30.0
MOST_JOINED_WITH_ONE_KEY: Final = 2
"""A console that lost its link comes back before its old connection is known to be dead."""
GIVES_WAY_AFTER_NS: Final = NS_PER_S
"""A joined console says something every 500 ms; an older connection of its key that has said
nothing for this long is dead, and gives way."""
UNPROVED_BYTES: Final = 16 * 1024
"""TLS and WebSocket handshakes, and a pairing or a proof, take 3 KB."""
UNPROVED_FRAMES: Final = 4
"""The longest way in has three messages and the first of the conversation."""
PROVED_BYTES_PER_SECOND: Final = 64.0 * 1024
PROVED_BYTES_BURST: Final = 256.0 * 1024
PROVED_FRAMES_PER_SECOND: Final = 60.0
"""More than the conversation allows, which closes politely and hears a Stop even then."""
PROVED_FRAMES_BURST: Final = 120.0
_MOST_ADDRESSES: Final = 256
_MOST_KNOWN: Final = 64

Peer = tuple[str, int]
"""Address and port of the other end, as its socket tells them."""


@dataclass(slots=True)
class Bucket:
    """Lets so many through at once and so many a second."""

    burst: float
    per_second: float
    left: float
    at_ns: int

    def take(self, at_ns: int, count: float = 1.0) -> bool:
        """Whether so many more may come."""
        gained = (at_ns - self.at_ns) / NS_PER_S * self.per_second
        self.left = min(self.burst, self.left + gained)
        self.at_ns = at_ns
        if self.left < count:
            return False
        self.left -= count
        return True


class Quota:
    """What one connection may send; ``at_ns`` is when it came."""

    def __init__(
        self, at_ns: int, first_bytes: int = UNPROVED_BYTES, first_frames: int = UNPROVED_FRAMES
    ) -> None:
        self._bytes = Bucket(first_bytes, 0.0, first_bytes, at_ns)
        self._frames = Bucket(first_frames, 0.0, first_frames, at_ns)

    def prove(self, at_ns: int) -> None:
        """It is somebody who may take part; from now on there is more every second."""
        self._bytes = Bucket(PROVED_BYTES_BURST, PROVED_BYTES_PER_SECOND, PROVED_BYTES_BURST, at_ns)
        self._frames = Bucket(
            PROVED_FRAMES_BURST, PROVED_FRAMES_PER_SECOND, PROVED_FRAMES_BURST, at_ns
        )

    def take_bytes(self, count: int, at_ns: int) -> bool:
        """Whether so many bytes may be read; False: cut it off."""
        return self._bytes.take(at_ns, count)

    def take_frame(self, at_ns: int) -> bool:
        """Whether one more WebSocket frame may be looked at; False: cut it off."""
        return self._frames.take(at_ns)


@dataclass(frozen=True, slots=True)
class Entry:
    """Whether a connection may come in, and which older one has to go for it."""

    admitted: bool
    gives_way: Peer | None = None


class Admission:
    """Counts the connections that are open and those that came, in all and by where from."""

    def __init__(self, at_ns: int) -> None:
        self._all = Bucket(BURST, PER_SECOND, BURST, at_ns)
        self._buckets: OrderedDict[str, Bucket] = OrderedDict()
        self._unproved: dict[Peer, str] = {}
        """With where they come from, oldest first."""
        self._proved: dict[Peer, str] = {}
        self._known: OrderedDict[str, Bucket] = OrderedDict()
        """Where somebody proved a key: not kept out by what comes from elsewhere."""

    def enter(self, peer: Peer, at_ns: int) -> Entry:
        """Whether a connection from there may be taken now; it then counts as open."""
        source = source_of(peer[0])
        if not self._take(source, at_ns):
            return Entry(admitted=False)
        gives_way = self._one_too_many(source)
        if gives_way is not None:
            self.leave(gives_way)
        self._unproved[peer] = source
        return Entry(admitted=True, gives_way=gives_way)

    def prove(self, peer: Peer, at_ns: int) -> bool:
        """Give it one of the places apart; False where these are full."""
        source = self._unproved.get(peer)
        if source is None or len(self._proved) >= MOST_PROVED:
            return False
        del self._unproved[peer]
        self._proved[peer] = source
        if source not in self._known:
            self._known[source] = Bucket(BURST_FROM_ONE, PER_SECOND_FROM_ONE, BURST_FROM_ONE, at_ns)
            if len(self._known) > _MOST_KNOWN:
                self._known.popitem(last=False)
        self._known.move_to_end(source)
        return True

    def leave(self, peer: Peer) -> None:
        """A connection has ended; it may have been told before."""
        self._unproved.pop(peer, None)
        self._proved.pop(peer, None)

    def open(self) -> int:
        """How many are open."""
        return len(self._unproved) + len(self._proved)

    def proved(self) -> int:
        """How many of them have proved a key."""
        return len(self._proved)

    def _take(self, source: str, at_ns: int) -> bool:
        known = self._known.get(source)
        if known is not None:
            return known.take(at_ns)
        bucket = self._buckets.get(source)
        if bucket is None:
            bucket = Bucket(BURST_FROM_ONE, PER_SECOND_FROM_ONE, BURST_FROM_ONE, at_ns)
            self._buckets[source] = bucket
            if len(self._buckets) > _MOST_ADDRESSES:
                self._buckets.popitem(last=False)
        self._buckets.move_to_end(source)
        return bucket.take(at_ns) and self._all.take(at_ns)

    def _one_too_many(self, source: str) -> Peer | None:
        """Who has to go, so that there is a place for one more from there."""
        counts = Counter(self._unproved.values())
        if counts[source] >= MOST_UNPROVED_FROM_ONE:
            crowd = source
        elif len(self._unproved) >= MOST_UNPROVED:
            crowd = counts.most_common(1)[0][0]
        else:
            return None
        return next(peer for peer, its_source in self._unproved.items() if its_source == crowd)


def plain_address(address: str) -> str:
    """An address as people write it: IPv4 as such also where it came in by an IPv6 socket."""
    try:
        parsed = ipaddress.ip_address(address.split("%")[0])
    except ValueError:
        return address
    mapped = parsed.ipv4_mapped if isinstance(parsed, ipaddress.IPv6Address) else None
    return str(mapped or parsed)


def source_of(address: str) -> str:
    """What one sender can be taken to hold: an IPv4 address, or an IPv6 network of 64 bits.

    One computer may have any number of addresses in its /64 (RFC 8981, temporary addresses).
    """
    plain = plain_address(address)
    if ":" not in plain:
        return plain
    return str(ipaddress.ip_network(f"{plain}/64", strict=False))
