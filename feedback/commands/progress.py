"""``beltside progress``: one page on all sessions of an athlete that can be compared."""

from __future__ import annotations

import argparse

from feedback.baselines import plain
from feedback.commands.archive import (
    code_name_like,
    newest,
    open_archive,
    save_page,
    settings_to_read_with,
)
from feedback.guard import OK
from feedback.records.privacy import reports_folder
from feedback.records.progress_page import progress_page
from feedback.records.store import SessionLine, Store
from feedback.records.trends import SPEED_WITHIN_KMH, trends
from shared.problems import UserError
from shared.records import View
from shared.targets import Goal


def run(options: argparse.Namespace) -> int:
    """Write the page. Raises UserError when there are no sessions to compare."""
    with open_archive(settings_to_read_with()) as store:
        name = code_name_like(store, options.athlete)
        lines = store.sessions(name)
        last = newest(lines, None, f" of {name}")
        view: View = options.view or last.view
        speed = options.belt_kmh or _newest_speed(lines, view, name)
        low, high = speed - SPEED_WITHIN_KMH, speed + SPEED_WITHIN_KMH
        means = store.means(name, view, low, high)
        goals = _newest_goals(store, [one.uid for one in means])
        page = progress_page(name, view, speed, lines, trends(means, goals), goals)
    save_page(page, options.out, reports_folder() / plain(name) / "progress")
    return OK


def _newest_speed(lines: tuple[SessionLine, ...], view: View, name: str) -> float:
    speeds = [one.belt_speed_kmh for one in lines if one.view is view]
    known = [speed for speed in speeds if speed is not None]
    if not known:
        do = "Sessions are compared at one view and belt speed; write the speed into the profile."
        raise UserError("sessions_missing", of=f" of {name} at a known belt speed", do=do)
    return known[-1]


def _newest_goals(store: Store, uids: list[str]) -> tuple[Goal, ...]:
    return store.digest(uids[-1]).goals if uids else ()
