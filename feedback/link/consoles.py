"""Who is paired with whom: the consoles a station knows, and the stations a console knows.

Both are small files in the data folder, readable by their owner only. The station keeps public
keys, with which nobody can pass for a console; the console keeps its secret ones.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Final, TypeVar

import msgspec
from msgspec import Meta

from feedback.link.address import Address
from feedback.link.pairing import Name, Paired
from feedback.storage.folders import make_private
from shared.files import save_atomically
from shared.plain_text import keep_plain, plain_line
from shared.problems import UserError
from shared.reading import read_json

CONSOLES_FILE: Final = "consoles.json"
STATIONS_FILE: Final = "stations.json"
_MOST_STATION_LETTERS: Final = 63
"""What is found by itself has no longer name (RFC 6763, section 4.1.1)."""

Key = Annotated[bytes, Meta(min_length=32, max_length=32)]
Fingerprint = Annotated[str, Meta(pattern="^[0-9a-f]{64}$")]


class Console(msgspec.Struct, frozen=True, kw_only=True):
    """A console as the station knows it."""

    name: Name
    public_key: Key
    """Ed25519."""
    paired_on: str
    """Date and time, ISO 8601."""


class KnownStation(msgspec.Struct, frozen=True, kw_only=True):
    """A station as a console knows it."""

    name: str
    fingerprint: Fingerprint
    certificate: bytes
    """DER: the only one that is trusted for this station."""
    called: Name
    """What the station calls this console."""
    seed: Key
    """Of this console's Ed25519 key pair; secret."""
    host: str
    port: Annotated[int, Meta(ge=1, le=65535)]
    """Where it was last met."""

    def __post_init__(self) -> None:
        # It is the station's own word; the certificate tells who it is.
        keep_plain(self, "name", most=_MOST_STATION_LETTERS)


Kind = TypeVar("Kind", Console, KnownStation)


class ConsoleList:
    """The station's file of paired consoles. Read anew each time: other processes change it."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / CONSOLES_FILE
        self._read_at: tuple[int, int] | None = None
        self._read: tuple[Console, ...] = ()

    def all(self) -> tuple[Console, ...]:
        """All of them, by name. Raises UserError ``file_unreadable``."""
        try:
            stat = self._path.stat()
        except FileNotFoundError:
            self._read_at, self._read = None, ()
            return ()
        stamp = (stat.st_mtime_ns, stat.st_ino)
        if stamp != self._read_at:
            self._read = _load(self._path, Console)
            self._read_at = stamp
        return self._read

    def key_of(self, name: str) -> bytes | None:
        """The public key of the console of this name, if there is one."""
        return next((c.public_key for c in self.all() if c.name == name), None)

    def add(self, paired: Paired, paired_on: str) -> str:
        """Keep a console; returns its name, with a number where another one has that already."""
        known = {console.name for console in self.all()}
        name = _free_name(paired.name, known)
        console = Console(name=name, public_key=paired.public_key, paired_on=paired_on)
        self._save((*self.all(), console))
        return name

    def remove(self, name: str) -> None:
        """Forget a console; it can join no more. Raises UserError ``console_unknown``."""
        exact = any(console.name == name for console in self.all())
        rest = tuple(  # a name of an older version may hold what cannot be seen, nor typed
            console
            for console in self.all()
            if (console.name if exact else plain_line(console.name)) != name
        )
        if len(rest) == len(self.all()):
            known = ", ".join(console.name for console in rest) or "none"
            raise UserError("console_unknown", name=name, known=known)
        self._save(rest)

    def _save(self, consoles: tuple[Console, ...]) -> None:
        _store(self._path, tuple(sorted(consoles, key=lambda console: console.name)))


class StationList:
    """The console's file of the stations that it is paired with."""

    def __init__(self, folder: Path) -> None:
        self._path = folder / STATIONS_FILE

    def all(self) -> tuple[KnownStation, ...]:
        """All of them, by name. Raises UserError ``file_unreadable``."""
        return _load(self._path, KnownStation)

    def find(self, fingerprint: str) -> KnownStation | None:
        """The one with this certificate."""
        return next((s for s in self.all() if s.fingerprint == fingerprint), None)

    def keep(self, station: KnownStation) -> None:
        """Keep a station, in place of what was known of it."""
        rest = tuple(s for s in self.all() if s.fingerprint != station.fingerprint)
        ordered = sorted((*rest, station), key=lambda s: (s.name, s.fingerprint))
        _store(self._path, tuple(ordered))

    def met_at(self, fingerprint: str, place: Address) -> None:
        """Keep where a station was met, unless it was forgotten meanwhile."""
        known = self.find(fingerprint)
        if known is not None and place != (known.host, known.port):
            self.keep(msgspec.structs.replace(known, host=place.host, port=place.port))

    def remove(self, fingerprint: str) -> None:
        """Forget a station."""
        _store(self._path, tuple(s for s in self.all() if s.fingerprint != fingerprint))


def _free_name(wanted: str, taken: set[str]) -> str:
    name, number = wanted, 1
    while name in taken:
        number += 1
        name = f"{wanted[:36]} {number}"
    return name


def _load(path: Path, kind: type[Kind]) -> tuple[Kind, ...]:
    try:
        return read_json(path, tuple[kind, ...], "a list of pairings")  # type: ignore[valid-type]
    except UserError as error:
        if error.problem.code == "file_missing":
            return ()
        raise


def _store(path: Path, entries: tuple[Kind, ...]) -> None:
    make_private(path.parent)
    save_atomically(path, msgspec.json.format(msgspec.json.encode(entries), indent=1))
