"""``beltside erase``: all of one athlete, or sessions past their time, gone for good."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime

from feedback.commands.archive import open_archive
from feedback.commands.telling import note
from feedback.guard import OK, say
from feedback.records.aside import all_aside, bring_back
from feedback.records.journal import sessions_folder
from feedback.records.moments import begins, clock_problem
from feedback.records.privacy import (
    erase_aside,
    erase_athlete,
    erase_sessions,
    is_over_age,
    other_files,
    over_age,
    session_files,
    unreadable_files,
)
from feedback.records.settings import read_settings
from feedback.records.store import Store
from feedback.records.syncing import sync
from feedback.terminal import read_line
from shared.plain_text import plain_lines
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Erase what was asked for, once it is confirmed. Raises UserError."""
    with open_archive() as store:
        if options.athlete is not None:
            _athlete(store, options.athlete, options.yes)
        elif options.bring_back:
            _bring_back(store)
        else:
            _old(store, options.older_than or _keep_days(), options.yes)
    for path in unreadable_files(sessions_folder()):
        sys.stderr.write(
            plain_lines(f"Note: whose {path} is cannot be told; look at it yourself.\n")
        )
    return OK


def _athlete(store: Store, asked: str, yes: bool) -> None:
    known = {one.lower(): one for one in store.athletes()}
    name = known.get(asked.lower(), asked)
    count = store.athletes().get(name, 0)
    files = len(session_files(sessions_folder(), name)) + len(other_files(name))
    if not count and not files:
        do = "'beltside records' lists what there is."
        raise UserError("sessions_missing", of=f" and no file of {name}", do=do)
    say(f"{name}: {count} sessions and {files} files will be gone for good.")
    if yes or _typed(f"Type the code name to go on ({name}): ") == name:
        gone = erase_athlete(store, sessions_folder(), name)
        say(f"Erased: {count} sessions, {gone} files.")
    else:
        say("Nothing was erased.")


def _old(store: Store, days: int, yes: bool) -> None:
    now = datetime.now(tz=UTC)
    lines = over_age(store.sessions(), days, now)
    aside = [one for one in all_aside()[0] if is_over_age(one.started, days, now)]
    count = len(lines) + len(aside)
    problem = clock_problem(now, max(begins(sessions_folder()), default=None))
    if problem is not None:
        say(f"{problem.title} {problem.meaning}")
    say(f"{count} sessions are older than {days} days.")
    if not count:
        return
    if yes or _typed("Type erase to go on: ") == "erase":
        gone = erase_sessions(store, sessions_folder(), lines) + erase_aside(store, aside)
        say(f"Erased: {count} sessions, {gone} files.")
    else:
        say("Nothing was erased.")


def _bring_back(store: Store) -> None:
    """Put back what was set aside by itself."""
    aside, problems = all_aside()
    for problem in problems:
        note(problem)
    for one in aside:
        bring_back(one)
    sync(store, sessions_folder())
    say(f"Brought back: {len(aside)} sessions.")
    if aside:
        say("They go again by themselves as long as records.toml says so: set keep_days higher, or")
        say("erase_by_itself = false.")


def _keep_days() -> int:
    days = read_settings().keep_days
    if days is None:
        do = "Set keep_days in records.toml, or give --older-than DAYS."
        raise UserError("sessions_missing", of=" that is past its time: none is set", do=do)
    return days


def _typed(question: str) -> str:
    sys.stdout.write(plain_lines(question))
    sys.stdout.flush()
    return read_line().strip()
