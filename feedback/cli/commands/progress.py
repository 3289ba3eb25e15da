"""``beltside progress``: one page on all sessions of an athlete that can be compared."""

from __future__ import annotations

import argparse

from feedback.cli.common.archive import newest, open_archive, settings_to_read_with, with_own
from feedback.cli.common.pages import PAGE_ENDINGS, check_ending, save_page
from feedback.records.people import People
from feedback.records.progress_page import progress_page
from feedback.records.reports import report_folder
from feedback.records.summary import Digest
from feedback.records.trends import comparable
from feedback.terminal.guard import OK
from shared.flow import View
from shared.language import _
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Write the page. Raises UserError when there are no sessions to compare."""
    check_ending(options.out, PAGE_ENDINGS, _("a page"))
    with open_archive(settings_to_read_with()) as store:
        person = People(store).find(options.athlete)
        name, digests = person.code_name, store.digests(person.athlete_id)
    counted = tuple(one for one in digests if one.counts) or digests
    last = newest(counted, None, _(" of {name}").format(name=name))
    view: View = options.view or last.view
    speed = options.belt_kmh or _newest_speed(counted, view, name)
    compared = comparable(digests, view, speed)
    if compared:
        compared = (*compared[:-1], with_own(compared[-1]))
    page = progress_page(name, view, speed, digests, compared)
    save_page(page, options.out, report_folder(last) / "progress")
    return OK


def _newest_speed(digests: tuple[Digest, ...], view: View, name: str) -> float:
    speeds = [one.belt_speed_kmh for one in digests if one.view is view]
    known = [speed for speed in speeds if speed is not None]
    if not known:
        do = _("Sessions are compared at one view and belt speed; add the speed to the profile.")
        of = _(" of {name} at a known belt speed").format(name=name)
        raise UserError("sessions_missing", of=of, do=do)
    return known[-1]
