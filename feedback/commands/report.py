"""``beltside report``: one page on one session."""

from __future__ import annotations

import argparse

from feedback.baselines import plain
from feedback.commands.archive import (
    PAGE_ENDINGS,
    check_ending,
    code_name_like,
    newest,
    open_archive,
    save_page,
    with_own,
)
from feedback.guard import OK
from feedback.records.digesting import points
from feedback.records.journal import SUFFIX, read_journal, sessions_folder
from feedback.records.privacy import reports_folder
from feedback.records.received import SUFFIX as HOME_SUFFIX
from feedback.records.report import session_report
from feedback.records.trace import unpack


def run(options: argparse.Namespace) -> int:
    """Write the report. Raises UserError when there is no such session."""
    check_ending(options.out, PAGE_ENDINGS, "a page")
    with open_archive() as store:
        name = None if options.athlete is None else code_name_like(store, options.athlete)
        line = newest(store.sessions(name), options.session, "" if name is None else f" of {name}")
        digest, packed = with_own(store.digest(line.uid)), store.trace(line.uid)
    journal = sessions_folder() / line.journal
    here = journal.name.endswith(SUFFIX) and journal.exists()
    # Of a session held at another station the journal lies there; its trace is in the store.
    page = session_report(digest, points(read_journal(journal)) if here else unpack(packed))
    stem = line.journal.removesuffix(HOME_SUFFIX).removesuffix(SUFFIX)
    save_page(page, options.out, reports_folder() / plain(line.code_name) / stem)
    return OK
