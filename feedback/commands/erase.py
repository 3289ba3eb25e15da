"""``beltside erase``: all of one athlete, or sessions past their time, gone for good."""

from __future__ import annotations

import argparse
import sys

from feedback.commands.archive import open_archive
from feedback.guard import OK
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
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Erase what was asked for, once it is confirmed. Raises UserError."""
    with open_archive() as store:
        if options.athlete is not None:
            _athlete(store, options.athlete, options.yes)
        else:
            _old(store, options.older_than or _keep_days(), options.yes)
    for path in unreadable_files(sessions_folder()):
        sys.stderr.write(f"Note: whose {path} is cannot be told; look at it yourself.\n")
    return OK


def _athlete(store: Store, asked: str, yes: bool) -> None:
    known = {one.lower(): one for one in store.athletes()}
    name = known.get(asked.lower(), asked)
    count = store.athletes().get(name, 0)
    files = len(session_files(sessions_folder(), name)) + len(other_files(name))
    if not count and not files:
        do = "'beltside records' lists what there is."
        raise UserError("sessions_missing", of=f" and no file of {name}", do=do)
    sys.stdout.write(f"{name}: {count} sessions and {files} files will be gone for good.\n")
    if yes or _typed(f"Type the code name to go on ({name}): ") == name:
        gone = erase_athlete(store, sessions_folder(), name)
        sys.stdout.write(f"Erased: {count} sessions, {gone} files.\n")
    else:
        sys.stdout.write("Nothing was erased.\n")


def _old(store: Store, days: int, yes: bool) -> None:
    lines = over_age(store.sessions(), days)
    sys.stdout.write(f"{len(lines)} sessions are older than {days} days.\n")
    if not lines:
        return
    if yes or _typed("Type erase to go on: ") == "erase":
        gone = erase_sessions(store, sessions_folder(), lines)
        sys.stdout.write(f"Erased: {len(lines)} sessions, {gone} files.\n")
    else:
        sys.stdout.write("Nothing was erased.\n")


def _keep_days() -> int:
    days = read_settings().keep_days
    if days is None:
        do = "Set keep_days in records.toml, or give --older-than DAYS."
        raise UserError("sessions_missing", of=" that is past its time: none is set", do=do)
    return days


def _typed(question: str) -> str:
    sys.stdout.write(question)
    sys.stdout.flush()
    return read_line().strip()
