"""The store as the commands open it: brought up to date with the sessions' records first."""

from __future__ import annotations

import contextlib
import itertools
import sys
from collections.abc import Iterator
from typing import TypeVar

import msgspec

from feedback.athlete_files.baselines import baseline_for
from feedback.cli.common.progress_bar import busy
from feedback.journal.writer import sessions_folder
from feedback.records.store import Store
from feedback.records.summary import CountsAs, Digest
from feedback.records.sync import Synced, sync
from feedback.storage.settings import Settings, read_settings
from shared.language import _
from shared.plain_text import plain_lines
from shared.problems import UserError

S = TypeVar("S", bound=CountsAs)


def settings_to_read_with() -> Settings:
    """What is set; the defaults, and a note, where ``records.toml`` is no file that can be parsed.

    Never to erase or store with: which store is meant is not known then. Raises UserError for a
    field that is wrong.
    """
    try:
        return read_settings()
    except UserError as error:
        if error.problem.code not in ("toml_broken", "file_unreadable"):
            raise
        sys.stderr.write(
            plain_lines(
                _(
                    "Note: {title} Until this is fixed, only this computer's own store is looked "
                    "at."
                ).format(title=error.problem.title)
                + "\n"
            )
        )
        return Settings()


@contextlib.contextmanager
def open_archive(settings: Settings | None = None) -> Iterator[Store]:
    """The store with every session in it. Raises UserError."""
    with Store((read_settings() if settings is None else settings).store) as store:
        with busy(_("Adding new sessions to the store")) as tell:
            count = itertools.count(1)
            synced = sync(store, sessions_folder(), lambda _path: tell(f"{next(count)}"))
        tell_unreadable(synced)
        yield store
        if store.damaged:
            note = _(
                "Note: the store contains impossible values; their sessions are skipped. To "
                "read them again from their records: beltside rebuild"
            )
            sys.stderr.write(plain_lines(f"{note}\n"))


def tell_unreadable(synced: Synced) -> None:
    """Name the records that could not be read."""
    for path, why in synced.unreadable:
        said = _("Note: {file} is skipped. {why}").format(file=path.name, why=why)
        sys.stderr.write(plain_lines(f"{said}\n"))


def listed(lines: tuple[S, ...]) -> tuple[S, ...]:
    """Those that are listed and numbered: with a step, or all where none has one."""
    return tuple(line for line in lines if line.steps) or lines


def newest(lines: tuple[S, ...], number: int | None, of: str) -> S:
    """The N-th session, or the newest one. Raises UserError ``sessions_missing``."""
    lines = listed(lines)
    if not lines:
        do = _("Run one first: beltside run --athlete NAME --camera 0.")
        raise UserError("sessions_missing", of=of, do=do)
    if number is None:
        return lines[-1]
    if number > len(lines):
        do = _("Choose one from 1 to {count}; 'beltside records NAME' lists them.")
        which = _(" number {number}{of}").format(number=number, of=of)
        raise UserError("sessions_missing", of=which, do=do.format(count=len(lines)))
    return lines[number - 1]


def with_own(digest: Digest) -> Digest:
    """With the baseline from this computer, where the session's record does not hold it."""
    if digest.own is not None or digest.baseline or digest.belt_speed_kmh is None:
        return digest
    own = baseline_for(
        digest,
        digest.view,
        digest.belt_speed_kmh,
        digest.baseline_utc,
        digest.started_utc,
    )
    return msgspec.structs.replace(digest, own=own)
