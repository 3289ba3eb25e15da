"""All that this computer holds of one athlete: found, and erased for good."""

from __future__ import annotations

import contextlib
import json
import tomllib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from feedback.baselines import plain
from feedback.profiles import own_athletes
from feedback.records.aside import Aside, aside_of, forget
from feedback.records.beside import files_beside
from feedback.records.journal import SUFFIX
from feedback.records.received import SUFFIX as HOME_SUFFIX
from feedback.records.settings import data_folder
from feedback.records.store import SessionLine, Store
from feedback.records.syncing import code_name_of
from feedback.shelf import Shelf, own_folder
from feedback.trust import forget_name
from shared.problems import UserError

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
    """Records of sessions whose athlete cannot be told: somebody has to look at them."""
    found = []
    for path in sorted([*folder.glob(f"*{SUFFIX}"), *folder.glob(f"*{HOME_SUFFIX}")]):
        try:
            code_name_of(path)
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
    found += [path for one in aside_of(code_name) for path in one.files]
    return tuple(found)


def erase_athlete(store: Store, folder: Path, code_name: str) -> int:
    """Erase all of one athlete; returns how many files are gone.

    The store comes first: should this be broken off, the next sync erases the rest of the
    journals. May be begun again.
    """
    aside = aside_of(code_name)
    files = (*session_files(folder, code_name), *other_files(code_name))
    store.erase_sessions([one.note.uid for one in aside])
    store.erase_athlete(code_name)
    for path in files:
        _delete(path)
    for one in aside:
        forget(one)
    with contextlib.suppress(OSError):  # missing, or something else was put there
        (reports_folder() / plain(code_name)).rmdir()
    forget_name(code_name)
    return len(files)


def over_age(
    lines: tuple[SessionLine, ...], days: int, now: datetime | None = None
) -> tuple[SessionLine, ...]:
    """The sessions that are older than so many days."""
    now = datetime.now(tz=UTC) if now is None else now
    return tuple(
        line for line in lines if is_over_age(datetime.fromisoformat(line.started_utc), days, now)
    )


def is_over_age(began: datetime, days: int, now: datetime) -> bool:
    """Whether a session that began then is older than so many days."""
    return now - began > timedelta(days=days)


def files_of_session(folder: Path, line: SessionLine) -> tuple[Path, ...]:
    """All files of one session that lie here; its record after the others."""
    journal = folder / line.journal
    reports = _files(reports_folder() / plain(line.code_name))
    return (
        *(path for path in reports if path.name.startswith(_stem(journal))),
        *(path for path in (*files_beside(journal), journal) if path.exists()),
    )


def erase_aside(store: Store, aside: Sequence[Aside]) -> int:
    """Erase sessions that were set aside; returns how many files are gone."""
    if not aside:
        return 0
    store.erase_sessions([one.note.uid for one in aside])
    return sum(forget(one) for one in aside)


def erase_sessions(store: Store, folder: Path, lines: tuple[SessionLine, ...]) -> int:
    """Erase some sessions with their journals and reports; returns how many files are gone."""
    files = [path for line in lines for path in files_of_session(folder, line)]
    store.erase_sessions([line.uid for line in lines])
    for path in files:
        _delete(path)
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
        content = path.read_bytes()
        read: Any = (
            tomllib.loads(content.decode()) if path.suffix == ".toml" else json.loads(content)
        )
    except (OSError, ValueError):
        return
    if isinstance(read, dict):
        yield read.get("code_name")


def _delete(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
