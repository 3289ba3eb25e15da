"""``beltside report``: one page on one session."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.common.archive import newest, open_archive, settings_to_read_with, with_own
from feedback.cli.common.pages import PAGE_ENDINGS, check_ending, save_page
from feedback.journal.writer import SUFFIX, read_journal, sessions_folder
from feedback.records.packed_values import unpack
from feedback.records.people import People
from feedback.records.report import session_report
from feedback.records.reports import report_folder, stem_of
from feedback.records.summarise import points
from feedback.records.summary import ValueAtStep
from feedback.terminal.guard import OK
from shared.language import _
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Write the report. Raises UserError when there is no such session."""
    check_ending(options.out, PAGE_ENDINGS, _("a page"))
    with open_archive(settings_to_read_with()) as store:
        whose, of = None, ""
        if options.athlete is not None:
            person = People(store).find(options.athlete)
            whose, of = person.athlete_id, _(" of {name}").format(name=person.code_name)
        line = newest(store.sessions(whose), options.session, of)
        digest, packed = with_own(store.digest(line.uid)), store.trace(line.uid)
    journal = sessions_folder() / line.journal
    here = journal.name.endswith(SUFFIX) and journal.exists()
    # Of a session held at another station the journal lies there; its trace is in the store.
    values = _values(journal) if here else unpack(packed)
    page = session_report(digest, values)
    save_page(page, options.out, report_folder(line) / stem_of(line.journal))
    return OK


def _values(journal: Path) -> tuple[ValueAtStep, ...]:
    """The single values. Raises UserError where the record was damaged since it was stored."""
    recording = read_journal(journal)
    try:
        return points(recording)
    except (ValueError, ArithmeticError) as error:
        why = _("it contains impossible values")
        raise UserError("file_unreadable", str(error), path=str(journal), why=why) from error
