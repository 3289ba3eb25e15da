"""The store as the commands open it: brought up to date with the sessions' records first."""

from __future__ import annotations

import contextlib
import itertools
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

import msgspec

from feedback.athlete_files.baselines import baseline_for
from feedback.cli.common.progress_bar import busy
from feedback.journal.writer import sessions_folder
from feedback.records.page.page import PrintedPage
from feedback.records.store import SessionLine, Store
from feedback.records.summary import Digest
from feedback.records.sync import Synced, sync
from feedback.storage.folders import make_private
from feedback.storage.settings import Settings, read_settings
from feedback.terminal.guard import say
from shared.files import save_atomically
from shared.language import _
from shared.plain_text import plain_lines
from shared.problems import UserError

PAGE_ENDINGS: Final = (".html", ".htm", ".pdf")


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
                    "at.\n"
                ).format(title=error.problem.title)
            )
        )
        return Settings()


@contextlib.contextmanager
def open_archive(settings: Settings | None = None) -> Iterator[Store]:
    """The store with every session in it. Raises UserError."""
    with Store((read_settings() if settings is None else settings).store) as store:
        with busy(_("Adding new sessions to the store")) as tell:
            count = itertools.count(1)
            synced = sync(store, sessions_folder(), lambda _: tell(f"{next(count)}"))
        tell_unreadable(synced)
        yield store
        if store.damaged:
            sys.stderr.write(
                _(
                    "Note: the store contains impossible values; their sessions are skipped. "
                    "To read "
                    "them again from their records: beltside rebuild\n"
                )
            )


def tell_unreadable(synced: Synced) -> None:
    """Name the records that could not be read."""
    for path, why in synced.unreadable:
        sys.stderr.write(
            plain_lines(_("Note: {name} is skipped. {why}\n").format(name=path.name, why=why))
        )


def listed(lines: tuple[SessionLine, ...]) -> tuple[SessionLine, ...]:
    """Those that are listed and numbered: with a step, or all where none has one."""
    return tuple(line for line in lines if line.steps) or lines


def newest(lines: tuple[SessionLine, ...], number: int | None, of: str) -> SessionLine:
    """The N-th session, or the newest one. Raises UserError ``sessions_missing``."""
    lines = listed(lines)
    if not lines:
        do = _("Run one first: beltside run --athlete NAME --camera 0.")
        raise UserError("sessions_missing", of=of, do=do)
    if number is None:
        return lines[-1]
    if number > len(lines):
        do = _("Choose one from 1 to {count}; 'beltside records NAME' lists them.").format(
            count=len(lines)
        )
        raise UserError(
            "sessions_missing", of=_(" number {number}{of}").format(number=number, of=of), do=do
        )
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


def check_ending(path: Path | None, endings: Sequence[str], what: str) -> None:
    """See that a file's name says what will be in it. Raises UserError ``ending_unknown``."""
    if path is None or path.suffix.lower() in endings:
        return
    *some, last = endings
    possible = f"{', '.join(some)} or {last}" if some else last
    raise UserError("ending_unknown", path=str(path), what=what, possible=possible)


def save_page(page: PrintedPage, out: Path | None, stem: Path) -> None:
    """Write a page as asked for and say where. Raises UserError ``save_failed``."""
    with busy(_("Writing the page")):
        written = write_page(page, out, stem)
    for target in written:
        say(_("Written: {target}").format(target=target))


def write_page(page: PrintedPage, out: Path | None, stem: Path) -> tuple[Path, ...]:
    """Write a page to ``out``, or both as HTML and as PDF to ``stem``; returns what was written.

    Raises UserError ``save_failed``.
    """
    from feedback.records.page.html import as_html
    from feedback.records.page.pdf import as_pdf

    if out is None:
        make_private(stem.parent)
        targets = [stem.with_name(f"{stem.name}{ending}") for ending in (".html", ".pdf")]
    else:
        targets = [out.expanduser()]
    for target in targets:
        pdf = target.suffix.lower() == ".pdf"
        save_atomically(target, as_pdf(page) if pdf else as_html(page).encode())
    return tuple(targets)
