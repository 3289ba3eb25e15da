"""``beltside erase``: all of one athlete, or sessions past their time, gone for good."""

from __future__ import annotations

import argparse
import sys

from feedback.commands.archive import open_archive
from feedback.guard import OK, say
from feedback.records.journal import sessions_folder
from feedback.records.privacy import (
    erase_athlete,
    erase_sessions,
    other_files,
    over_age,
    session_files,
    unreadable_files,
)
from feedback.records.settings import read_settings
from feedback.records.store import Store
from feedback.terminal import read_line
from shared.plain_text import plain_lines
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Erase what was asked for, once it is confirmed. Raises UserError."""
    with open_archive() as store:
        if options.athlete is not None:
            _athlete(store, options.athlete, options.yes)
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
    lines = over_age(store.sessions(), days)
    say(f"{len(lines)} sessions are older than {days} days.")
    if not lines:
        return
    if yes or _typed("Type erase to go on: ") == "erase":
        gone = erase_sessions(store, sessions_folder(), lines)
        say(f"Erased: {len(lines)} sessions, {gone} files.")
    else:
        say("Nothing was erased.")


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
