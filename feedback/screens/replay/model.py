"""A replay without any drawing: where in time it stands, and which picture is shown then (pure).

A contact is found between two pictures: its time is worked out from how the foot moves over many
of them, so it hardly ever is the time of a picture. The picture that is shown for it is the
nearest in time, and of two that are equally near the later one, where the foot is on the belt.
How far the picture is from the contact is always told, never hidden.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import IntEnum
from typing import Final

from shared.flow import EventKind, Side
from shared.pictures import Mark

FAR_NS: Final = 50_000_000
"""A contact without a picture this near cannot be looked at: three pictures were missed there."""
BEFORE_NS: Final = 200_000_000
AFTER_NS: Final = 400_000_000
"""Side by side can be moved this far before and after the contacts: more than a contact lasts."""
_USUAL_NS: Final = 33_333_333
"""From picture to picture, where there are too few of them to tell."""


class Speed(IntEnum):
    """One second of the replay takes so many seconds."""

    FULL = 1
    HALF = 2
    QUARTER = 4


def nearest_frame(times_ns: Sequence[int], at_ns: int) -> int:
    """The picture nearest in time; of two that are equally near, the later.

    ``times_ns``: of all pictures, rising, at least one.
    """
    after = bisect_left(times_ns, at_ns)
    if after == 0:
        return 0
    if after == len(times_ns):
        return after - 1
    before = after - 1
    return before if at_ns - times_ns[before] < times_ns[after] - at_ns else after


def frame_at(times_ns: Sequence[int], at_ns: int) -> int:
    """The picture that stands at this time: the newest that is not later; else the first."""
    return max(0, bisect_right(times_ns, at_ns) - 1)


@dataclass(frozen=True, slots=True)
class Contact:
    """A foot met the belt."""

    side: Side
    at_ns: int
    frame: int
    """Number of the picture that is nearest."""


@dataclass(frozen=True)
class Clip:
    """When the pictures of one replay were taken, and what happened among them."""

    times_ns: tuple[int, ...]
    """Rising, at least one."""
    marks: tuple[Mark, ...] = ()
    contacts: tuple[Contact, ...] = field(init=False)
    """Those that can be looked at, oldest first."""
    interval_ns: int = field(init=False)
    """From picture to picture, as most of them are apart."""

    def __post_init__(self) -> None:
        """Work out what follows from the pictures and marks."""
        object.__setattr__(self, "contacts", tuple(self._contacts()))
        gaps = sorted(b - a for a, b in zip(self.times_ns, self.times_ns[1:], strict=False))
        object.__setattr__(self, "interval_ns", gaps[len(gaps) // 2] if gaps else _USUAL_NS)

    @property
    def first_ns(self) -> int:
        """Time of the first picture."""
        return self.times_ns[0]

    @property
    def last_ns(self) -> int:
        """Time of the last picture."""
        return self.times_ns[-1]

    def of(self, side: Side) -> tuple[Contact, ...]:
        """The contacts of one side, oldest first."""
        return tuple(contact for contact in self.contacts if contact.side is side)

    def next_contact(self, side: Side, frame: int) -> Contact | None:
        """The first contact of this side that is shown by a later picture than ``frame``."""
        return next((one for one in self.of(side) if one.frame > frame), None)

    def previous_contact(self, side: Side, frame: int) -> Contact | None:
        """The last contact of this side that is shown by an earlier picture than ``frame``."""
        return next((one for one in reversed(self.of(side)) if one.frame < frame), None)

    def _contacts(self) -> list[Contact]:
        found = []
        for mark in sorted(self.marks, key=lambda one: one.at_ns):
            inside = self.first_ns <= mark.at_ns <= self.last_ns
            if mark.kind is EventKind.CONTACT and inside:
                frame = nearest_frame(self.times_ns, mark.at_ns)
                if abs(self.times_ns[frame] - mark.at_ns) <= FAR_NS:
                    found.append(Contact(mark.side, mark.at_ns, frame))
        return found


class Run:
    """A place in time that is moved by hand or by the clock, from ``first_ns`` to ``last_ns``."""

    def __init__(self, first_ns: int, last_ns: int, at_ns: int) -> None:
        self.first_ns, self.last_ns = first_ns, last_ns
        self._at_ns = at_ns
        self._began: tuple[int, int] | None = None
        """Clock and place from when it plays."""
        self._speed = Speed.QUARTER

    @property
    def at_ns(self) -> int:
        """The place."""
        return self._at_ns

    @property
    def playing(self) -> bool:
        """Whether the clock moves it."""
        return self._began is not None

    @property
    def speed(self) -> Speed:
        """How fast the clock moves it."""
        return self._speed

    def set_speed(self, speed: Speed, now_ns: int) -> None:
        """Go on from here at another speed."""
        self.tick(now_ns)
        self._speed = speed
        if self._began is not None:
            self._began = (now_ns, self._at_ns)

    def play(self, now_ns: int) -> None:
        """Let the clock move it; from the beginning when it stands at the end."""
        if self._at_ns >= self.last_ns:
            self._at_ns = self.first_ns
        self._began = (now_ns, self._at_ns)

    def pause(self) -> None:
        """Stay here."""
        self._began = None

    def go(self, at_ns: int) -> None:
        """Stay at this place, or at the end that it lies beyond."""
        self._began = None
        self._at_ns = min(max(at_ns, self.first_ns), self.last_ns)

    def tick(self, now_ns: int) -> None:
        """Let the clock move it to where it is to be now; it stays at the end."""
        if self._began is None:
            return
        clock_ns, from_ns = self._began
        self._at_ns = from_ns + max(0, now_ns - clock_ns) // self._speed
        if self._at_ns >= self.last_ns:
            self._at_ns, self._began = self.last_ns, None


@dataclass(frozen=True, slots=True)
class Pair:
    """A left contact and a right one that are looked at side by side."""

    left: Contact | None
    """None: no contact of this side is known in the whole replay."""
    right: Contact | None


def pair_up(contacts: Sequence[Contact]) -> tuple[Pair, ...]:
    """Pairs of contacts, newest first; the first has the newest of each side.

    ``contacts``: oldest first. Going back in time, each contact goes with its neighbour where that
    is of the other side. One whose neighbour was missed goes with the nearest of the other side,
    which then is in two pairs; so each contact can be looked at, and beside a near one.
    """
    pairs = []
    waiting = list(contacts)
    while waiting:
        newest = waiting.pop()
        if waiting and waiting[-1].side is not newest.side:
            other: Contact | None = waiting.pop()
        else:
            others = [one for one in contacts if one.side is not newest.side]
            other = min(others, key=lambda one: abs(one.at_ns - newest.at_ns), default=None)
        left_first = newest.side is Side.LEFT
        pairs.append(Pair(newest, other) if left_first else Pair(other, newest))
    return tuple(pairs)
