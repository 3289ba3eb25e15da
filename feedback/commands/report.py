"""``beltside report``: one page on one session."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.baselines import plain
from feedback.commands.archive import (
    code_name_like,
    newest,
    open_archive,
    save_page,
    settings_to_read_with,
)
from feedback.guard import OK
from feedback.records.digest import Point
from feedback.records.digesting import points
from feedback.records.journal import SUFFIX, read_journal, sessions_folder
from feedback.records.privacy import reports_folder
from feedback.records.received import SUFFIX as HOME_SUFFIX
from feedback.records.report import session_report
from feedback.records.trace import unpack
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Write the report. Raises UserError when there is no such session."""
    with open_archive(settings_to_read_with()) as store:
        name = None if options.athlete is None else code_name_like(store, options.athlete)
        line = newest(store.sessions(name), options.session, "" if name is None else f" of {name}")
        digest, packed = store.digest(line.uid), store.trace(line.uid)
    journal = sessions_folder() / line.journal
    here = journal.name.endswith(SUFFIX) and journal.exists()
    # Of a session held at another station the journal lies there; its trace is in the store.
    values = _values(journal) if here else unpack(packed)
    page = session_report(digest, values)
    stem = line.journal.removesuffix(HOME_SUFFIX).removesuffix(SUFFIX)
    save_page(page, options.out, reports_folder() / plain(line.code_name) / stem)
    return OK


def _values(journal: Path) -> tuple[Point, ...]:
    """The single values. Raises UserError where the record was damaged since it was stored."""
    recording = read_journal(journal)
    try:
        return points(recording)
    except (ValueError, ArithmeticError) as error:
        why = "it holds what cannot be"
        raise UserError("file_unreadable", str(error), path=str(journal), why=why) from error
