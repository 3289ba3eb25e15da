"""All that this computer holds of one athlete: found by the athlete's id, and erased for good."""

from __future__ import annotations

import contextlib
import tomllib
from collections.abc import Collection, Iterable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

import msgspec

from feedback.profiles import own_athletes
from feedback.records.beside import files_beside
from feedback.records.journal import SUFFIX, sessions_folder
from feedback.records.received import SUFFIX as HOME_SUFFIX
from feedback.records.reports import old_folders, own_folders, reports_folder, stem_of
from feedback.records.settings import data_folder
from feedback.records.store import SessionLine, Store
from feedback.records.syncing import athlete_of
from feedback.shelf import Shelf, own_folder
from shared.identity import AthleteId, id_in, id_of
from shared.problems import UserError

SHELVES: Final = (Shelf.PRESCRIPTIONS, Shelf.BASELINES, Shelf.PROGRESS, Shelf.RESULTS)


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
    """Records of sessions whose athlete cannot be told: somebody has to look at them."""
    return tuple(path for path, whose in session_records(folder) if not whose)


def labelled_files() -> Iterator[tuple[Path, Label]]:
    """Prescriptions, baselines, logs, results and own profiles that say whose they are."""
    yield from _labelled([path for shelf in SHELVES for path in _files(own_folder(shelf))])
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
    paths = (path for shelf in SHELVES for path in _files(own_folder(shelf)))
    if any(id_of(label) == athlete_id for _, label in _labelled(paths)):
        return True
    return any(whose == athlete_id for _, whose in session_records(sessions_folder()))


def erase_files(files: Collection[Path]) -> None:
    """Erase these, with the folders of reports that are empty then. Raises ``save_failed``."""
    for path in files:
        _delete(path)
    for folder in {path.parent for path in files if path.parent.parent == reports_folder()}:
        with contextlib.suppress(OSError):  # something is left in it
            folder.rmdir()


def over_age(lines: tuple[SessionLine, ...], days: int) -> tuple[SessionLine, ...]:
    """The sessions that are older than so many days."""
    oldest = datetime.now(tz=UTC) - timedelta(days=days)
    return tuple(line for line in lines if datetime.fromisoformat(line.started_utc) < oldest)


def erase_sessions(store: Store, folder: Path, lines: tuple[SessionLine, ...]) -> int:
    """Erase some sessions with their journals and reports; returns how many files are gone."""
    files: list[Path] = []
    for line in lines:
        journal = folder / line.journal
        files += [path for path in (*files_beside(journal), journal) if path.exists()]
        for reports in (*own_folders(line.athlete_id), *old_folders([line.code_name])):
            files += [path for path in _files(reports) if path.stem == stem_of(line.journal)]
    store.erase_sessions([line.uid for line in lines])
    erase_files(files)
    return len(files)


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_file()) if folder.is_dir() else []


def _labelled(paths: Iterable[Path]) -> Iterator[tuple[Path, Label]]:
    for path in paths:
        if (label := _label(path)) is not None:
            yield path, label


def _label(path: Path) -> Label | None:
    try:
        content = path.read_bytes()
        if path.suffix != ".toml":
            return msgspec.json.decode(content, type=Label)
        return msgspec.convert(tomllib.loads(content.decode("utf-8-sig")), Label)
    except (OSError, ValueError, RecursionError):  # msgspec's errors are ValueErrors
        return None


def _delete(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
