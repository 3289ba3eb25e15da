"""Fills the store from journals and home results: what is new or has grown, each once."""

from __future__ import annotations

import logging
from collections.abc import Callable
from pathlib import Path

import msgspec

from feedback.journal.writer import SUFFIX, read_journal
from feedback.records.answers import former_uid_of_result, uid_of_result
from feedback.records.files import files_beside
from feedback.records.home_results import SUFFIX as HOME_SUFFIX
from feedback.records.home_results import digest_received, read_received
from feedback.records.owners import read_header
from feedback.records.packed_values import pack
from feedback.records.store import Store
from feedback.records.summarise import read_whole, uid_of
from shared.language import _
from shared.problems import UserError, describe, file_error


class Synced(msgspec.Struct, kw_only=True):
    """What a sync came to."""

    stored: int = 0
    """Sessions that were new or had grown."""
    already: int = 0
    erased: int = 0
    """Journals that were deleted because their session had been erased elsewhere."""
    unreadable: list[tuple[Path, str]] = msgspec.field(default_factory=list)
    """Journals that could not be read, and why; they are left alone."""


def sync(store: Store, folder: Path, report: Callable[[str], None] | None = None) -> Synced:
    """Bring the store up to date with the journals of a folder.

    May be broken off at any moment and begun again: each session is one transaction.
    ``report`` is told the uid of each session once it is safe.
    """
    known, erased = store.files(), store.erased()
    result = Synced()
    paths = [*folder.glob(f"*{SUFFIX}"), *folder.glob(f"*{HOME_SUFFIX}")]
    for path in sorted(paths):
        try:
            size = _size(path)
            # The name tells moment and runner: no two stations have one with as many bytes.
            if known.get(path.name) == size:
                result.already += 1
                continue
            uid, former_uid = read_uids(path)
            if {uid, former_uid} & erased:
                delete_session(path)
                result.erased += 1
            elif _is_copy(store, uid, path):
                result.already += 1
            else:
                _store(store, path, size)
                result.stored += 1
                if report is not None:
                    report(uid)
        except UserError as error:
            if error.problem.code == "store_unreachable":
                raise
            result.unreadable.append((path, error.problem.title))
        except Exception as error:  # one that is damaged in a new way must not hide the others
            logging.getLogger("beltside").exception("%s is left out", path)
            why = _("it contains impossible values ({kind})").format(kind=type(error).__name__)
            title = describe("file_unreadable", path=str(path), why=why).title
            result.unreadable.append((path, title))
    return result


def _is_copy(store: Store, uid: str, path: Path) -> bool:
    """Whether another result that is kept here is of the same session; older versions took both."""
    if not path.name.endswith(HOME_SUFFIX):
        return False
    stored = store.journal_of(uid)
    return stored not in (None, path.name) and path.with_name(str(stored)).exists()


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError as error:
        raise file_error("file_unreadable", path, error) from error


def _store(store: Store, path: Path, size: int) -> None:
    # The size is from before the reading: of a journal that still grows too little is believed.
    trace = b""
    if path.name.endswith(HOME_SUFFIX):
        found = digest_received(read_received(path))
    else:
        found, values = read_whole(read_journal(path))
        trace = pack(found, values)
    if not store.put(found, path.name, size, trace):
        delete_session(path)


def rebuild(store: Store, folder: Path) -> Synced:
    """Throw away all that the store knows and fill it again from the journals.

    Of a shared store only the sessions held here come back by this; the other stations bring
    theirs at their next sync.
    """
    store.clear()
    return sync(store, folder)


def read_uids(path: Path) -> tuple[str, str]:
    """The uid of the session in a journal or a home result, and as older versions had it.

    Raises UserError.
    """
    if path.name.endswith(HOME_SUFFIX):
        result = read_received(path).result
        return uid_of_result(result), former_uid_of_result(result)
    uid = uid_of(read_header(path))
    return uid, uid


def delete_session(path: Path) -> None:
    """Delete a journal, after the track and replays beside it. Raises UserError ``save_failed``."""
    for file in (*files_beside(path), path):
        try:
            file.unlink(missing_ok=True)
        except OSError as error:
            raise file_error("save_failed", file, error) from error
