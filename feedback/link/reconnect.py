"""Which places a lost station is looked for at, in which order and when (pure).

Several at once, begun one shortly after the other (RFC 8305, sections 5 and 8: "Happy Eyeballs"),
so that none waits for another's failure. Where the station was last met comes first and has a
place of its own. Places that are announced may be false: they are called at a bounded rate, fairly
by computer, and what turned out to be false is left alone for a while.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from enum import StrEnum
from typing import Final

from feedback.link.address import Address
from shared.units import NS_PER_S

STAGGER_NS: Final = NS_PER_S // 40
"""After a first call to an announced place. RFC 8305, section 8: at least 10 ms; it recommends 100
for a choice of a few, and here the right one may be among hundreds."""
STAGGER_AGAIN_NS: Final = NS_PER_S // 10
"""After a call to one that was called before."""
HEAD_START_NS: Final = NS_PER_S // 4
"""Of the places where it was met; RFC 8305, section 8: 250 ms between attempts is recommended."""
MOST_AT_ONCE: Final = 128
"""Calls to announced places. One who is reached and says nothing takes 3 s, so that the rate alone
fills no more and nobody waits for another to fail; some systems allow 256 open files."""
MOST_AT_ONE_HOST: Final = 2
MOST_ANNOUNCED: Final = 512
"""Announced places that are looked at."""
MOST_REMEMBERED: Final = 1024
MOST_MET: Final = 3
HELD_NS: Final = 10 * NS_PER_S
"""A link that lasted so long shows that the place is a good one."""
FIRST_WAIT_NS: Final = NS_PER_S // 10
LONGEST_WAIT_NS: Final = NS_PER_S
"""Between two calls to a place where it was met."""


class CallOutcome(StrEnum):
    """How a call ended that did not come to taking part."""

    NO_ANSWER = "no answer"
    """Nobody there, or it refuses."""
    SILENT = "silent"
    """Somebody is there, and does not show a certificate in time."""
    FALSE = "false"
    """Another certificate, or something else than TLS."""
    BROKE = "broke"
    """The right certificate, and then nothing."""
    TURNED_AWAY = "turned away"
    """The right certificate, and a no in words."""


_REST_NS: Final[dict[CallOutcome, tuple[int, int]]] = {
    CallOutcome.NO_ANSWER: (NS_PER_S, 5 * NS_PER_S),
    CallOutcome.SILENT: (2 * NS_PER_S, 10 * NS_PER_S),
    CallOutcome.FALSE: (30 * NS_PER_S, 600 * NS_PER_S),
    CallOutcome.BROKE: (NS_PER_S, 10 * NS_PER_S),
    CallOutcome.TURNED_AWAY: (NS_PER_S, NS_PER_S),
}
"""How long an announced place is left alone: the first time, doubled each time, at most."""


class _Known:
    """What came of one place so far."""

    __slots__ = ("begun", "failures", "last", "not_before_ns")

    def __init__(self) -> None:
        self.begun = 0
        self.failures = 0
        """One after the other, of the kind of the last one."""
        self.last: CallOutcome | None = None
        self.not_before_ns = 0


class Calls:
    """The calls for one station, from :meth:`begin` until it is joined, again and again."""

    def __init__(self) -> None:
        self._home: Address | None = None
        self._met: list[Address] = []
        """Where it was met here, the newest first."""
        self._announced: tuple[Address, ...] = ()
        self._announced_set: frozenset[Address] = frozenset()
        self._known: dict[Address, _Known] = {}
        """The longest unused first."""
        self._out: set[Address] = set()
        self._next_announced_ns = 0

    @property
    def met(self) -> tuple[Address, ...]:
        """Where it was met, the newest first, then where it is said to have been before."""
        met = [*self._met, *([] if self._home is None else [self._home])]
        return tuple(dict.fromkeys(met))[:MOST_MET]

    @property
    def out(self) -> frozenset[Address]:
        """Places that are being called."""
        return frozenset(self._out)

    def begin(self, now_ns: int) -> None:
        """The link is down: look for it, everywhere anew but at what was shown to be false."""
        self._out.clear()
        for known in self._known.values():
            if known.last in (CallOutcome.NO_ANSWER, CallOutcome.SILENT):
                known.failures, known.last, known.not_before_ns = 0, None, now_ns
        self._next_announced_ns = now_ns + HEAD_START_NS

    def offer(self, places: Iterable[Address]) -> None:
        """Where it may be: first where it was last met, then where it is announced now."""
        each = tuple(dict.fromkeys(places))
        self._home = each[0] if each else None
        self._announced = each[1 : 1 + MOST_ANNOUNCED]
        self._announced_set = frozenset(self._announced)

    def due(self, now_ns: int) -> tuple[Address, ...]:
        """The places to call now; they count as being called until :meth:`ended`."""
        met = self.met
        begun = [p for p in met if p not in self._out and self._at(p).not_before_ns <= now_ns]
        if now_ns >= self._next_announced_ns:
            one = self._pick(met, now_ns)
            if one is not None:
                first = self._at(one).begun == 0
                self._next_announced_ns = now_ns + (STAGGER_NS if first else STAGGER_AGAIN_NS)
                begun.append(one)
        for place in begun:
            self._out.add(place)
            self._touch(place).begun += 1
        return tuple(begun)

    def next_ns(self, now_ns: int) -> int | None:
        """When something may be due; None: not before a call has ended or places are offered."""
        met = self.met
        times = [self._at(p).not_before_ns for p in met if p not in self._out]
        free = [self._at(place).not_before_ns for _, place in self._free(met)]
        if free:
            times.append(max(self._next_announced_ns, min(free)))
        return max(now_ns, min(times)) if times else None

    def ended(self, place: Address, outcome: CallOutcome, now_ns: int, spread: float = 1.0) -> None:
        """A call came to nothing. ``spread``, up to 1, shortens the wait: by chance, in use."""
        self._out.discard(place)
        known = self._touch(place)
        known.failures = known.failures + 1 if known.last is outcome else 1
        known.last = outcome
        first_ns, longest_ns = (
            (FIRST_WAIT_NS, LONGEST_WAIT_NS) if place in self.met else _REST_NS[outcome]
        )
        doubled = first_ns << min(known.failures - 1, 10)
        known.not_before_ns = now_ns + round(min(doubled, longest_ns) * spread)

    def joined(self) -> None:
        """It is found: all other calls are dropped."""
        self._out.clear()

    def left(self, place: Address, held_ns: int, now_ns: int, spread: float = 1.0) -> None:
        """The link by this place is over, after so long."""
        if held_ns < HELD_NS:
            self.ended(place, CallOutcome.BROKE, now_ns, spread)
            return
        self.proved(place)
        known = self._touch(place)
        known.failures, known.last = 0, None
        known.not_before_ns = now_ns + round(FIRST_WAIT_NS * spread)

    def proved(self, place: Address) -> None:
        """The link by this place holds: it is where the station was last met."""
        self._met = list(dict.fromkeys([place, *self._met]))[:MOST_MET]

    def _pick(self, met: tuple[Address, ...], now_ns: int) -> Address | None:
        """The announced place whose turn it is: that of the computer that was called least."""
        free = [one for one in self._free(met) if self._at(one[1]).not_before_ns <= now_ns]
        if not free:
            return None
        begun: Counter[str] = Counter()
        for place in self._known.keys() & self._announced_set - set(met):
            begun[place.host] += self._known[place].begun
        return min(free, key=lambda one: (begun[one[1].host], self._at(one[1]).begun, one[0]))[1]

    def _free(self, met: tuple[Address, ...]) -> list[tuple[int, Address]]:
        """Announced places that may be called as far as the caps go, with their rank."""
        others = [place for place in self._out if place not in met]
        at_host = Counter(place.host for place in others)
        if len(others) >= MOST_AT_ONCE:
            return []
        return [
            (rank, place)
            for rank, place in enumerate(self._announced)
            if place not in met
            and place not in self._out
            and at_host[place.host] < MOST_AT_ONE_HOST
        ]

    def _at(self, place: Address) -> _Known:
        return self._known.get(place) or _NOTHING

    def _touch(self, place: Address) -> _Known:
        known = self._known.pop(place, None) or _Known()
        self._known[place] = known
        if len(self._known) > MOST_REMEMBERED:
            del self._known[next(one for one in self._known if one not in self._out)]
        return known


_NOTHING: Final = _Known()
