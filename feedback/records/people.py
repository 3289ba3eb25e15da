"""Who there are records of, told apart by id; whom a typed name means."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from feedback.athlete_files.known_athletes import bearer, bearers, forget_seen
from feedback.athlete_files.trust import forget_athlete
from feedback.journal.writer import sessions_folder
from feedback.records.aside import aside_of, forget
from feedback.records.owners import labelled_files, other_files, session_files
from feedback.records.privacy import erase_files, erase_from_log, erase_rows_aside
from feedback.records.private_files import clear_half_saved
from feedback.records.reports import old_reports, stem_of
from feedback.records.store import Store
from feedback.storage.locking import turn
from feedback.storage.settings import data_folder
from feedback.storage.toml_fields import did_you_mean
from feedback.texts import numbers
from shared.identity import SHORT, derived_id, id_of, ids_meant
from shared.language import _
from shared.problems import UserError

MOST_LISTED: Final = 20
TOML: Final = ".toml"


@dataclass(frozen=True)
class Person:
    """One athlete."""

    athlete_id: str
    names: tuple[str, ...]
    """Every code name that profile and records bear, the newest first."""
    sessions: int
    recorded: bool
    """Whether anything is kept, be it only a profile in the own folder."""

    @property
    def code_name(self) -> str:
        """As it is shown."""
        return self.names[0]

    @property
    def told_apart(self) -> str:
        """Name and id, where the name alone may be another one's too."""
        return _("{name} (id {id})").format(name=self.code_name, id=self.athlete_id[:SHORT])


class People:
    """Everybody of whom the store, a file or a profile here knows, each once."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._profiles = bearers()
        names: dict[str, dict[str, None]] = defaultdict(dict)
        for one in self._profiles:
            names[id_of(one)][one.code_name] = None
        sessions: dict[str, int] = defaultdict(int)
        for line in store.athletes():
            names[line.athlete_id][line.code_name] = None
            sessions[line.athlete_id] += line.sessions
        recorded = set(sessions)
        for _path, label in labelled_files():
            names[id_of(label)][label.code_name] = None
            recorded.add(id_of(label))
        everybody = [
            Person(key, tuple(known), sessions[key], key in recorded)
            for key, known in names.items()
        ]
        self.all = tuple(sorted(everybody, key=lambda one: (one.code_name, one.athlete_id)))

    @property
    def recorded(self) -> tuple[Person, ...]:
        """Those of whom anything is kept, by name."""
        return tuple(one for one in self.all if one.recorded)

    def find(self, asked: str) -> Person:
        """Whom a typed id, name or profile means.

        Raises UserError ``athlete_ambiguous`` where it may be several, ``sessions_missing`` where
        it is nobody.
        """
        found = self.meant(asked)
        if len(found) == 1:
            return found[0]
        if found:
            listed = "; ".join(f"{one.told_apart}, {counted(one)}" for one in found[:MOST_LISTED])
            raise UserError("athlete_ambiguous", name=asked, found=listed)
        names = [one.code_name for one in self.recorded]
        near = did_you_mean(asked, names) or ""
        do = _("There are: {names}.").format(names=", ".join(names) or _("none yet"))
        if asked.strip():
            of = _(" of {name}").format(name=f"{asked}{near}")
        else:
            of = _(" of somebody without a name")
        raise UserError("sessions_missing", of=of, do=do)

    def meant(self, asked: str) -> tuple[Person, ...]:
        """Everybody whom it may mean: by id, else by how names look, else by how they sound.

        The name of a profile's file means its athlete, too: which was meant is not guessed.
        """
        ids = ids_meant(asked, (one.athlete_id for one in self.all))
        if ids:
            return self._with(ids)
        by_file = [id_of(one) for one in self._profiles if one.path.stem.lower() == asked.lower()]
        if asked.endswith(TOML) and (one := bearer(Path(asked).expanduser())) is not None:
            by_file.append(id_of(one))
        return self._with((*(self._named(asked, _seen) or self._named(asked, _folded)), *by_file))

    def means(self, typed: str, person: Person) -> bool:
        """Whether the name as it is shown, or the id, was typed."""
        return _seen(typed) == _seen(person.code_name) or bool(
            ids_meant(typed, [person.athlete_id])
        )

    def _named(self, asked: str, read: Callable[[str], str]) -> tuple[str, ...]:
        wanted = read(asked)
        return tuple(
            one.athlete_id for one in self.all if any(read(name) == wanted for name in one.names)
        )

    def _with(self, ids: Iterable[str]) -> tuple[Person, ...]:
        wanted = set(ids)
        found = tuple(one for one in self.all if one.athlete_id in wanted)
        # Of whom nothing is kept is not in the way of those of whom something is.
        return tuple(one for one in found if one.recorded) or found

    def shown(self, person: Person) -> str:
        """The name, with the id where another athlete's name may be taken for it."""
        own = {_folded(name) for name in person.names}
        alike = (one for one in self.recorded if one != person)
        taken = any(own & {_folded(name) for name in one.names} for one in alike)
        return person.told_apart if taken else person.code_name

    def namesakes(self, person: Person) -> tuple[Person, ...]:
        """Who else bears the very name, where what is kept bears no id but that name.

        It may be of any of them, from before there were ids, and is given to none.
        """
        if all(person.athlete_id != derived_id(name) for name in person.names):
            return ()
        if any(one.athlete_id == person.athlete_id for one in self._profiles):
            return ()  # it was taken over
        names = set(person.names)
        return tuple(one for one in self.all if one != person and names & set(one.names))

    def files(self, person: Person) -> tuple[Path, ...]:
        """Every file on this computer that is this athlete's; those that say so stand last."""
        whose = person.athlete_id
        sessions = session_files(sessions_folder(), whose)
        reports = (path for path, one in self._old_reports(person) if one == whose)
        aside = (path for one in aside_of(whose) for path in one.files)
        return (*sessions, *dict.fromkeys((*reports, *other_files(whose), *aside)))

    def erase(self, person: Person) -> int:
        """Erase all of one athlete; returns how many files are gone. Raises UserError.

        The store comes first: should this be broken off, the next sync erases the rest of the
        journals. May be begun again.
        """
        files = self.files(person)
        aside = aside_of(person.athlete_id)
        erase_rows_aside(self._store, aside)
        self._store.erase_athlete(person.athlete_id)
        erase_files(files)
        clear_half_saved(data_folder())
        for one in aside:
            forget(one)
        erase_from_log([person.athlete_id, *(path.name for path in files)])
        with turn(data_folder()):
            forget_athlete(person.athlete_id)
            forget_seen(person.athlete_id)
        return len(files)

    def unclear(self, person: Person) -> tuple[Path, ...]:
        """Reports of older versions that may be this athlete's or another's: it cannot be told."""
        return tuple(path for path, whose in self._old_reports(person) if not whose)

    def _old_reports(self, person: Person) -> list[tuple[Path, str]]:
        sessions = {stem_of(one.journal): one.athlete_id for one in self._store.sessions()}
        known = {one.athlete_id: one.names for one in self.all}
        return list(old_reports(person.names, sessions, known))


def counted(person: Person) -> str:
    """How many sessions there are."""
    return numbers.sessions(person.sessions)


def _seen(name: str) -> str:
    """The same for names that look the same."""
    return unicodedata.normalize("NFC", name)


def _folded(name: str) -> str:
    """The same for names that may be typed for one another: capitals, width, ligatures."""
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
