"""``beltside report``: one page on one session."""

from __future__ import annotations

import argparse

from feedback.commands.archive import (
    PAGE_ENDINGS,
    check_ending,
    newest,
    open_archive,
    save_page,
    with_own,
)
from feedback.guard import OK
from feedback.records.digesting import points
from feedback.records.journal import SUFFIX, read_journal, sessions_folder
from feedback.records.people import People
from feedback.records.report import session_report
from feedback.records.reports import report_folder, stem_of
from feedback.records.trace import unpack


def run(options: argparse.Namespace) -> int:
    """Write the report. Raises UserError when there is no such session."""
    check_ending(options.out, PAGE_ENDINGS, "a page")
    with open_archive() as store:
        whose, of = None, ""
        if options.athlete is not None:
            person = People(store).find(options.athlete)
            whose, of = person.athlete_id, f" of {person.code_name}"
        line = newest(store.sessions(whose), options.session, of)
        digest, packed = with_own(store.digest(line.uid)), store.trace(line.uid)
    journal = sessions_folder() / line.journal
    here = journal.name.endswith(SUFFIX) and journal.exists()
    # Of a session held at another station the journal lies there; its trace is in the store.
    page = session_report(digest, points(read_journal(journal)) if here else unpack(packed))
    save_page(page, options.out, report_folder(line) / stem_of(line.journal))
    return OK
