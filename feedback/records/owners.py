"""Whose each file is that this computer keeps. The store is not asked, nor its libraries loaded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

import msgspec

from feedback.athlete_files.athletes import own_athletes
from feedback.journal.writer import SUFFIX, Header, sessions_folder
from feedback.records.files import files_beside
from feedback.records.home_results import SUFFIX as HOME_SUFFIX
from feedback.records.home_results import athlete_of_received, read_received
from feedback.records.reports import own_folders
from feedback.storage.folders import DataFolder, own_folder
from feedback.storage.settings import data_folder
from shared.identity import AthleteId, id_in, id_of
from shared.language import _
from shared.problems import UserError, file_error
from shared.reading import decode_line, open_regular, read_any

SHELVES: Final = (
    DataFolder.PRESCRIPTIONS,
    DataFolder.BASELINES,
    DataFolder.PROGRESS,
    DataFolder.RESULTS,
)
LONGEST_HEADER: Final = 64_000_000
"""Bytes; a first line longer than this is no header of ours. It may hold the texts of a profile and
a prescription, each twice, and older versions set no limit to these."""
_HEADERS: Final = msgspec.json.Decoder(Header)


class Label(msgspec.Struct, frozen=True, kw_only=True):
    """Whose a file says that it is."""

    code_name: str
    athlete_id: AthleteId = ""


def session_records(folder: Path) -> Iterator[tuple[Path, str]]:
    """Every record of a session with its athlete's id; empty where that cannot be told."""
    for path in sorted([*folder.glob(f"*{SUFFIX}"), *folder.glob(f"*{HOME_SUFFIX}")]):
        try:
            yield path, athlete_of(path)
        except UserError:
            yield path, ""


def session_files(folder: Path, athlete_id: str) -> tuple[Path, ...]:
    """Journals, tracks, saved replays and home results of one athlete.

    A journal comes after what lies beside it, so that what is left can still be told to be theirs
    should an erasure be broken off.
    """
    found: list[Path] = []
    for path, whose in session_records(folder):
        if whose == athlete_id:
            found += [*files_beside(path), path]
    return tuple(found)


def unreadable_files(folder: Path) -> tuple[Path, ...]:
    """Files whose athlete cannot be told, of sessions and others: somebody has to look at them."""
    found = [path for path, whose in session_records(folder) if not whose]
    for path in (*_shelved(), *own_athletes()):
        if id_in(path.name):
            continue
        try:
            read_any(path)
        except UserError:
            found.append(path)
    return tuple(found)


def labelled_files() -> Iterator[tuple[Path, Label]]:
    """Prescriptions, baselines, logs, results and own profiles that say whose they are."""
    yield from _labelled(_shelved())
    yield from _labelled(own_athletes())


def other_files(athlete_id: str) -> tuple[Path, ...]:
    """Reports in an own folder; prescriptions, baselines, logs, results and own profile.

    What says whose it is comes last: what an erasure leaves that is broken off must be found.
    """
    said = [path for path, label in labelled_files() if id_of(label) == athlete_id]
    named = [path for folder in own_folders(athlete_id) for path in _files(folder)]
    # Also what was half saved when a program died, and what cannot be read any more.
    for path in sorted(data_folder().rglob("*")):
        if id_in(path.name) == athlete_id and path.is_file():
            named.append(path)
    elsewhere = {*said, *session_files(sessions_folder(), athlete_id)}
    return (*(path for path in dict.fromkeys(named) if path not in elsewhere), *said)


def keeps_anything_of(athlete_id: str) -> bool:
    """Whether any file here is of this athlete but for a profile; the store is not asked."""
    if any(id_of(label) == athlete_id for _, label in _labelled(_shelved())):
        return True
    return any(whose == athlete_id for _, whose in session_records(sessions_folder()))


def read_header(path: Path) -> Header:
    """The first line of a journal alone. Raises UserError ``file_unreadable``."""
    try:
        with open_regular(path) as file:
            return decode_line(file.readline(LONGEST_HEADER), _HEADERS)
    except OSError as error:
        raise file_error("file_unreadable", path, error) from error
    except ValueError as error:
        why = _("it is not the record of a session")
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error


def athlete_of(path: Path) -> str:
    """The id of the athlete whose session it is. Raises UserError for an old one only."""
    if in_name := id_in(path.name):
        return in_name
    if path.name.endswith(HOME_SUFFIX):
        return athlete_of_received(read_received(path))
    return id_of(read_header(path).athlete)


def _shelved() -> list[Path]:
    return [path for shelf in SHELVES for path in _files(own_folder(shelf))]


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_file()) if folder.is_dir() else []


def _labelled(paths: Iterable[Path]) -> Iterator[tuple[Path, Label]]:
    for path in paths:
        if (label := _label(path)) is not None:
            yield path, label


def _label(path: Path) -> Label | None:
    try:
        return msgspec.convert(read_any(path), Label)
    except (UserError, ValueError):  # msgspec's errors are ValueErrors
        return None
