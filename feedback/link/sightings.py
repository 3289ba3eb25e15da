"""Which announced stations are kept in mind, and which are let go when there are too many (pure).

Anybody on the network may announce what they like, and as much. Those that may be a station this
console is paired with have room of their own; the others share the rest. Where room is short the
computer with the most names loses its oldest one, so that many names of one computer push out each
other and nobody else's. Where each name has a computer of its own, the half that was there first
stays and the newer half changes: who was there before a flood is not pushed out by it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from itertools import islice
from typing import Final


@dataclass(frozen=True, slots=True)
class FoundStation:
    """One station as it announces itself."""

    name: str
    prefix: str
    """The first digits of its certificate's fingerprint; empty where it gives none."""
    protocol: int
    hosts: tuple[str, ...]
    """Addresses, the likeliest first."""
    port: int


class Group(IntEnum):
    """Those that share room."""

    AT_HOME = 0
    """May be a paired station, and at the computer where it was last met."""
    MAY_BE_PAIRED = 1
    """Says that it has the certificate of a paired station."""
    OTHER = 2


MOST: Final[dict[Group, int]] = {Group.AT_HOME: 32, Group.MAY_BE_PAIRED: 512, Group.OTHER: 200}
MOST_OF_ONE_HOST: Final = 8
"""Others at one address: a computer has few stations."""
MOST_COUNTED: Final = 2000
"""Names that were let go, as far as they are counted."""


class Sightings:
    """What is announced, by the name under which it is."""

    def __init__(self) -> None:
        self._homes: dict[str, frozenset[str]] = {}
        self._groups: dict[Group, dict[str, FoundStation]] = {group: {} for group in Group}
        """In the order in which they came."""
        self._hosts: dict[Group, Counter[str]] = {group: Counter() for group in Group}
        self._let_go: dict[str, None] = {}
        self._sorted: tuple[FoundStation, ...] | None = ()

    def want(self, homes: Mapping[str, frozenset[str]]) -> None:
        """The paired stations: where each was last met, by the beginning of its fingerprint."""
        if dict(homes) == self._homes:
            return
        self._homes = dict(homes)
        kept = [(name, s) for group in reversed(Group) for name, s in self._groups[group].items()]
        self._groups = {group: {} for group in Group}
        self._hosts = {group: Counter() for group in Group}
        for name, station in kept:
            self.see(name, station)

    def see(self, name: str, station: FoundStation) -> None:
        """A station is there, or says something new."""
        group = self._group_of(station)
        stations, hosts = self._groups[group], self._hosts[group]
        if name in stations:
            self._sorted = None
            self._forget_hosts(group, stations[name])  # it keeps its turn
        else:
            self.lose(name)
        stations[name] = station
        hosts.update(station.hosts)
        most, crowd = max(((host, hosts[host]) for host in station.hosts), key=lambda one: one[1])
        if group is Group.OTHER and crowd > MOST_OF_ONE_HOST:
            self._let_one_go(group, most)
        elif len(stations) > MOST[group]:
            most, crowd = hosts.most_common(1)[0]
            self._let_one_go(group, most if crowd > 1 else None)

    def lose(self, name: str) -> None:
        """A station has gone."""
        self._sorted = None
        self._let_go.pop(name, None)
        for group, stations in self._groups.items():
            station = stations.pop(name, None)
            if station is not None:
                self._forget_hosts(group, station)

    def keep_only(self, names: frozenset[str]) -> None:
        """Lose all others."""
        self._let_go = {name: None for name in self._let_go if name in names}
        for stations in tuple(self._groups.values()):
            for name in stations.keys() - names:
                self.lose(name)

    def found(self) -> tuple[FoundStation, ...]:
        """All that are kept, by name."""
        if self._sorted is None:
            kept = [station for group in Group for station in self._groups[group].values()]
            self._sorted = tuple(sorted(kept, key=lambda s: (s.name, s.prefix, s.port)))
        return self._sorted

    @property
    def let_go(self) -> int:
        """How many more were announced, up to MOST_COUNTED."""
        return len(self._let_go)

    def _group_of(self, station: FoundStation) -> Group:
        homes = self._homes.get(station.prefix)
        if homes is None:
            return Group.OTHER
        return Group.MAY_BE_PAIRED if homes.isdisjoint(station.hosts) else Group.AT_HOME

    def _let_one_go(self, group: Group, host: str | None) -> None:
        """The oldest of those at this address; without one, the oldest of the newer half."""
        stations = self._groups[group]
        if host is None:
            name = next(islice(stations, MOST[group] // 2, None))
        else:
            name = next(name for name, station in stations.items() if host in station.hosts)
        self._forget_hosts(group, stations.pop(name))
        self._let_go[name] = None
        if len(self._let_go) > MOST_COUNTED:
            del self._let_go[next(iter(self._let_go))]

    def _forget_hosts(self, group: Group, station: FoundStation) -> None:
        hosts = self._hosts[group]
        hosts.subtract(station.hosts)
        for host in station.hosts:
            if not hosts[host]:
                del hosts[host]
