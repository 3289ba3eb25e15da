"""The stations that a console may join: those it is paired with, and those found on the network."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from pathlib import Path
from typing import Final

from feedback.link.address import Address
from feedback.link.connect import pair_with
from feedback.link.consoles import KnownStation, StationList
from feedback.link.discovery import PREFIX_DIGITS
from feedback.link.finding import Finder
from feedback.link.remote_client import RemoteClient
from feedback.link.sightings import FoundStation
from shared.problems import UserError

_TRY_NEXT: Final = ("pairing_closed", "station_silent")
"""Problems for which the next place is tried; the first tells more."""


class Directory:
    """Looks for stations from its making to :meth:`close`."""

    def __init__(
        self, folder: Path, on_change: Callable[[], None] = lambda: None, *, look: bool = True
    ) -> None:
        """``on_change`` is called in another thread when a station comes or goes."""
        self._list = StationList(folder)
        self._finder: Finder | None = None
        if look:
            self._finder = Finder(on_change)
            with contextlib.suppress(UserError):  # told to whoever asks for the list
                self.known()

    def known(self) -> tuple[KnownStation, ...]:
        """Those that this console is paired with, by name. Raises UserError."""
        known = self._list.all()
        if self._finder is not None:
            self._finder.want({_prefix(s): frozenset([s.host]) for s in known})
        return known

    def found(self) -> tuple[FoundStation, ...]:
        """Those that announce themselves now, paired or not, by name."""
        return () if self._finder is None else self._finder.found()

    def is_there(self, station: KnownStation) -> bool:
        """Whether a station that it is paired with announces itself now."""
        return any(_is_same(found, station) for found in self.found())

    def unknown(self) -> tuple[FoundStation, ...]:
        """Those found that this console is not paired with."""
        known = self.known()
        return tuple(f for f in self.found() if not any(_is_same(f, s) for s in known))

    def more(self) -> int:
        """How many more are announced than are kept; false ones may be any number."""
        return 0 if self._finder is None else self._finder.more()

    def places(self, station: KnownStation) -> tuple[Address, ...]:
        """Where to call it: where it was last met, then where it announces itself now.

        Anybody can announce it. Those at the computer where it was last met come first. Called
        again and again while it is looked for, so that it is asked for on the network meanwhile.
        """
        if self._finder is not None:
            self._finder.search()
        found = [
            Address(host, one.port)
            for one in self.found()
            if _is_same(one, station)
            for host in one.hosts
        ]
        found.sort(key=lambda place: place.host != station.host)
        return tuple(dict.fromkeys([Address(station.host, station.port), *found]))

    def join(
        self, station: KnownStation, on_news: Callable[[], None] = lambda: None
    ) -> RemoteClient:
        """A link to a station that it is paired with, begun; close it."""

        def keep(place: Address) -> None:
            with contextlib.suppress(UserError):  # it will be found by its announcement again
                self._list.met_at(station.fingerprint, place)

        client = RemoteClient(station, lambda: self.places(station), on_news, keep)
        client.start()
        return client

    def pair(self, places: tuple[Address, ...], code: str, name: str) -> KnownStation:
        """Be paired with the station at the first of these places that takes a code, and keep it.

        A station may be at two at once: one where its session is, one that only pairs. Raises
        UserError: ``station_silent``, ``pairing_closed``, ``pairing_failed``, ``save_failed``.
        """
        problems: list[UserError] = []
        for place in places:
            try:
                return self._keep(pair_with(place, code, name))
            except UserError as error:
                if error.problem.code not in _TRY_NEXT:
                    raise
                problems.append(error)
        raise min(problems, key=lambda error: _TRY_NEXT.index(error.problem.code))

    def forget(self, station: KnownStation) -> None:
        """Be paired with it no longer, at this end."""
        self._list.remove(station.fingerprint)

    def close(self) -> None:
        """Look no more."""
        if self._finder is not None:
            self._finder.close()

    def _keep(self, station: KnownStation) -> KnownStation:
        self._list.keep(station)
        self.known()
        return station


def _is_same(found: FoundStation, station: KnownStation) -> bool:
    return found.prefix == _prefix(station)


def _prefix(station: KnownStation) -> str:
    return station.fingerprint[:PREFIX_DIGITS]
