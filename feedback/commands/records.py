"""``beltside records``: what is kept of whom, session by session and file by file."""

from __future__ import annotations

import argparse

from feedback.commands.archive import code_name_like, open_archive, settings_to_read_with
from feedback.commands.plain_console import PlainConsole
from feedback.guard import OK
from feedback.records.journal import sessions_folder
from feedback.records.phrases import KINDS, VIEWS, minutes, moment, speed
from feedback.records.privacy import other_files, over_age, session_files, unreadable_files
from feedback.records.store import Store


def run(options: argparse.Namespace) -> int:
    """Print the list. Raises UserError for a name that there are no sessions of."""
    console = PlainConsole(soft_wrap=True)
    settings = settings_to_read_with()
    with open_archive(settings) as store:
        if options.athlete is None:
            _all(console, store, settings.keep_days)
        else:
            _one(console, store, code_name_like(store, options.athlete))
    return OK


def _all(console: PlainConsole, store: Store, days: int | None) -> None:
    athletes = store.athletes()
    if not athletes:
        console.print("There are no records of sessions yet.")
    for name, count in athletes.items():
        console.print(f"{name}: {count} session{'' if count == 1 else 's'}")
    for path in unreadable_files(sessions_folder()):
        console.print(f"Whose it is cannot be told: {path}")
    if days is not None and (old := len(over_age(store.sessions(), days))):
        console.print(f"Past their {days} days: {old}. Erase with 'beltside erase --expired'.")


def _one(console: PlainConsole, store: Store, name: str) -> None:
    for number, line in enumerate(store.sessions(name), start=1):
        pain = "" if line.pain_worst is None else f", worst pain {line.pain_worst}"
        console.print(
            f"{number:4}. {moment(line.started_utc)}: {KINDS[line.kind]}, {VIEWS[line.view]}, "
            f"{speed(line.belt_speed_kmh)}, {minutes(line.run_s)}, {line.steps} steps{pain}"
        )
    console.print("Files on this computer:")
    for path in (*session_files(sessions_folder(), name), *other_files(name)):
        console.print(f"  {path}")
