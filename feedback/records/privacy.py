"""All that is kept of an athlete or of a session, erased for good."""

from __future__ import annotations

import contextlib
from collections.abc import Collection, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

from feedback.records.answers import uids_kept
from feedback.records.aside import Aside, forget
from feedback.records.files import files_beside
from feedback.records.home_results import received_aside
from feedback.records.private_files import clear_half_saved
from feedback.records.reports import old_folders, own_folders, reports_folder, stem_of
from feedback.records.store import SessionLine, Store
from feedback.storage.settings import data_folder
from feedback.terminal.guard import log_path
from shared.problems import file_error


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
        raise file_error("save_failed", log_path(), error) from error


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
    reports = [
        path
        for place in (*own_folders(line.athlete_id), *old_folders([line.code_name]))
        for path in place.iterdir()
        if path.stem == stem_of(line.journal)
    ]
    return (*reports, *(path for path in (*files_beside(journal), journal) if path.exists()))


def erase_aside(store: Store, aside: Sequence[Aside]) -> int:
    """Erase sessions that were set aside; returns how many files are gone."""
    if not aside:
        return 0
    erase_rows_aside(store, aside)
    return sum(forget(one) for one in aside)


def erase_rows_aside(store: Store, aside: Sequence[Aside]) -> None:
    """Have the store know that they were erased, and which prescriptions' sessions they answer."""
    answered = [uid for one in received_aside(aside) for uid in uids_kept(one)]
    store.erase_sessions([*(one.note.uid for one in aside), *answered])


def erase_sessions(store: Store, folder: Path, lines: tuple[SessionLine, ...]) -> int:
    """Erase some sessions with their journals and reports; returns how many files are gone."""
    files = [path for line in lines for path in files_of_session(folder, line)]
    store.erase_sessions([line.uid for line in lines])
    erase_files(files)
    clear_half_saved(data_folder())
    return len(files)


def _delete(path: Path) -> None:
    try:
        path.unlink(missing_ok=True)
    except OSError as error:
        raise file_error("save_failed", path, error) from error
