"""All that this computer holds of one athlete: found, and erased for good."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from feedback.baselines import plain
from feedback.profiles import own_athletes
from feedback.records.beside import files_beside
from feedback.records.journal import SUFFIX
from feedback.records.received import SUFFIX as HOME_SUFFIX
from feedback.records.settings import data_folder
from feedback.records.store import SessionLine, Store
from feedback.records.syncing import code_name_of
from feedback.shelf import Shelf, own_folder
from feedback.tidy import clear_half_saved
from feedback.trust import forget_name
from shared.problems import UserError
from shared.reading import read_any

REPORTS: Final = "reports"
SHELVES: Final = (Shelf.PRESCRIPTIONS, Shelf.BASELINES, Shelf.PROGRESS, Shelf.RESULTS)


def reports_folder() -> Path:
    """Where reports are written to when no other place is given."""
    return data_folder() / REPORTS


def session_files(folder: Path, code_name: str) -> tuple[Path, ...]:
    """Journals, tracks, saved replays and home results of one athlete.

    A journal comes after what lies beside it, so that what is left can still be told to be theirs
    should an erasure be broken off.
    """
    found: list[Path] = []
    for path in sorted([*folder.glob(f"*{SUFFIX}"), *folder.glob(f"*{HOME_SUFFIX}")]):
        try:
            if code_name_of(path) == code_name:
                found += [*files_beside(path), path]
        except UserError:  # whose it is cannot be told; the sync names it
            continue
    return tuple(found)


def unreadable_files(folder: Path) -> tuple[Path, ...]:
    """Files whose athlete cannot be told, of sessions and others: somebody has to look at them."""
    found = []
    for path in sorted([*folder.glob(f"*{SUFFIX}"), *folder.glob(f"*{HOME_SUFFIX}")]):
        try:
            code_name_of(path)
        except UserError:
            found.append(path)
    for path in (*(one for shelf in SHELVES for one in _files(own_folder(shelf))), *own_athletes()):
        try:
            read_any(path)
        except UserError:
            found.append(path)
    return tuple(found)


def other_files(code_name: str) -> tuple[Path, ...]:
    """Prescriptions, baselines, logs, results, reports and the own profile of one athlete."""
    found = [
        path for shelf in SHELVES for path in _files(own_folder(shelf)) if _names(path, code_name)
    ]
    found += [path for path in own_athletes() if _names(path, code_name)]
    found += _files(reports_folder() / plain(code_name))
    return tuple(found)


def erase_athlete(store: Store, folder: Path, code_name: str) -> int:
    """Erase all of one athlete; returns how many files are gone.

    The store comes first: should this be broken off, the next sync erases the rest of the
    journals. May be begun again.
    """
    files = (*session_files(folder, code_name), *other_files(code_name))
    store.erase_athlete(code_name)
    for path in files:
        _delete(path)
    clear_half_saved(data_folder())
    with contextlib.suppress(OSError):  # missing, or something else was put there
        (reports_folder() / plain(code_name)).rmdir()
    forget_name(code_name)
    return len(files)


def over_age(lines: tuple[SessionLine, ...], days: int) -> tuple[SessionLine, ...]:
    """The sessions that are older than so many days."""
    oldest = datetime.now(tz=UTC) - timedelta(days=days)
    return tuple(line for line in lines if datetime.fromisoformat(line.started_utc) < oldest)


def erase_sessions(store: Store, folder: Path, lines: tuple[SessionLine, ...]) -> int:
    """Erase some sessions with their journals and reports; returns how many files are gone."""
    files = []
    for line in lines:
        journal = folder / line.journal
        reports = reports_folder() / plain(line.code_name)
        files += [path for path in (*files_beside(journal), journal) if path.exists()]
        files += [path for path in _files(reports) if path.name.startswith(_stem(journal))]
    store.erase_sessions([line.uid for line in lines])
    for path in files:
        _delete(path)
    clear_half_saved(data_folder())
    return len(files)


def _stem(path: Path) -> str:
    return path.name.removesuffix(HOME_SUFFIX).removesuffix(SUFFIX)


def _files(folder: Path) -> list[Path]:
    return sorted(path for path in folder.iterdir() if path.is_file()) if folder.is_dir() else []


def _names(path: Path, code_name: str) -> bool:
    """Whether the file says that it is of this athlete."""
    return any(name == code_name for name in _code_names(path))


def _code_names(path: Path) -> Iterator[object]:
    try:
        read = read_any(path)
    except UserError:  # whose it is cannot be told
        return
    if isinstance(read, dict):
        yield read.get("code_name")


def _delete(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
