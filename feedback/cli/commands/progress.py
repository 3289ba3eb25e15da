"""``beltside progress``: one page on all sessions of an athlete that can be compared."""

from __future__ import annotations

import argparse

from feedback.cli.common.archive import (
    PAGE_ENDINGS,
    check_ending,
    newest,
    open_archive,
    save_page,
    settings_to_read_with,
    with_own,
)
from feedback.records.people import People
from feedback.records.progress_page import progress_page
from feedback.records.reports import report_folder
from feedback.records.store import SessionLine
from feedback.records.trends import SPEED_WITHIN_KMH, trends
from feedback.terminal.guard import OK
from shared.flow import View
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Write the page. Raises UserError when there are no sessions to compare."""
    check_ending(options.out, PAGE_ENDINGS, "a page")
    with open_archive(settings_to_read_with()) as store:
        person = People(store).find(options.athlete)
        name, lines = person.code_name, store.sessions(person.athlete_id)
        counted = tuple(line for line in lines if line.counts) or lines
        last = newest(counted, None, f" of {name}")
        view: View = options.view or last.view
        speed = options.belt_kmh or _newest_speed(counted, view, name)
        low, high = speed - SPEED_WITHIN_KMH, speed + SPEED_WITHIN_KMH
        means = store.means(person.athlete_id, view, low, high)
        newest_one = with_own(store.digest(means[-1].uid)) if means else None
        goals = () if newest_one is None else newest_one.goals
        own = None if newest_one is None else newest_one.own
        utc = "" if newest_one is None else newest_one.baseline_utc
        found = trends(means, goals, own, utc)
        page = progress_page(name, view, speed, lines, found, goals)
    save_page(page, options.out, report_folder(last) / "progress")
    return OK


def _newest_speed(lines: tuple[SessionLine, ...], view: View, name: str) -> float:
    speeds = [one.belt_speed_kmh for one in lines if one.view is view]
    known = [speed for speed in speeds if speed is not None]
    if not known:
        do = "Sessions are compared at one view and belt speed; add the speed to the profile."
        raise UserError("sessions_missing", of=f" of {name} at a known belt speed", do=do)
    return known[-1]
