"""All that is kept of an athlete or of a session, erased for good."""

from __future__ import annotations

import contextlib
from collections.abc import Collection
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedback.guard import log_path
from feedback.records.beside import files_beside
from feedback.records.reports import old_folders, own_folders, reports_folder, stem_of
from feedback.records.store import SessionLine, Store
from shared.problems import UserError


def erase_files(files: Collection[Path]) -> None:
    """Erase these, with the folders of reports that are empty then. Raises ``save_failed``."""
    for path in files:
        _delete(path)
    for folder in {path.parent for path in files if path.parent.parent == reports_folder()}:
        with contextlib.suppress(OSError):  # something is left in it
            folder.rmdir()


def erase_from_log(words: Collection[str]) -> None:
    """Take the lines with any of these words out of the program's own log of faults."""
    wanted = [word.encode() for word in words if word]
    try:
        with log_path().open("rb+") as log:
            before = log.read().splitlines(keepends=True)
            kept = [line for line in before if not any(word in line for word in wanted)]
            if kept != before:
                log.seek(0)
                log.write(b"".join(kept))
                log.truncate()
    except FileNotFoundError:
        return
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(log_path()), why=why) from error


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
            files += [path for path in reports.iterdir() if path.stem == stem_of(line.journal)]
    store.erase_sessions([line.uid for line in lines])
    erase_files(files)
    return len(files)


def _delete(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
