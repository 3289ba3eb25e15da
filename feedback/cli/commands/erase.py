"""``beltside erase``: all of one athlete, or sessions past their time, gone for good."""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime

from feedback.athlete_files.known_athletes import seen_profiles
from feedback.cli.commands.records import doubts
from feedback.cli.common.archive import open_archive
from feedback.cli.common.tell import note
from feedback.journal.writer import sessions_folder
from feedback.records.aside import all_aside, bring_back
from feedback.records.moments import begins, clock_problem
from feedback.records.owners import unreadable_files
from feedback.records.people import People, counted
from feedback.records.privacy import erase_aside, erase_sessions, is_over_age, over_age
from feedback.records.store import Store
from feedback.records.sync import sync
from feedback.storage.settings import read_settings
from feedback.terminal.guard import OK, say
from feedback.terminal.output import read_line
from feedback.texts import numbers
from shared.language import _
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
            plain_lines(
                _("Note: it is not known whose {path} is; check it yourself.\n").format(path=path)
            )
        )
    return OK


def _athlete(store: Store, asked: str, yes: bool) -> None:
    people = People(store)
    person = people.find(asked)
    files = people.files(person)
    if not person.sessions and not files:
        do = _("'beltside records' lists all records.")
        raise UserError(
            "sessions_missing",
            of=_(" and no file of {code_name}").format(code_name=person.code_name),
            do=do,
        )
    shown, name = people.shown(person), person.code_name
    if person.names[1:]:
        say(
            _("{shown} is also called {names} in the records.").format(
                shown=shown, names=", ".join(person.names[1:])
            )
        )
    say(
        _("{shown}: {counted} and {number_of} will be erased for good.").format(
            shown=shown, counted=counted(person), number_of=numbers.files(len(files))
        )
    )
    if yes or people.means(
        _typed(_("Type the code name to go on ({name}): ").format(name=name)), person
    ):
        told = doubts(people, person)
        elsewhere = [one.path for one in seen_profiles() if one.athlete_id == person.athlete_id]
        gone = people.erase(person)
        say(
            _("Erased: {counted}, {number_of}.").format(
                counted=counted(person), number_of=numbers.files(gone)
            )
        )
        for path in elsewhere:
            say(_("Note: the profile {path} is your own file and is not erased.").format(path=path))
        for line in told:
            say(line)
    else:
        say(_("Nothing was erased."))


def _old(store: Store, days: int, yes: bool) -> None:
    now = datetime.now(tz=UTC)
    lines = over_age(store.sessions(), days, now)
    aside = [one for one in all_aside()[0] if is_over_age(one.started, days, now)]
    count = len(lines) + len(aside)
    problem = clock_problem(now, max(begins(sessions_folder()), default=None))
    if problem is not None:
        say(f"{problem.title} {problem.meaning}")
    say(
        _("Older than {days} days: {number_of}.").format(
            days=days, number_of=numbers.sessions(count)
        )
    )
    if not count:
        return
    if yes or _typed(_("Type erase to go on: ")) == "erase":
        gone = erase_sessions(store, sessions_folder(), lines) + erase_aside(store, aside)
        say(
            _("Erased: {number_of}, {number_of_2}.").format(
                number_of=numbers.sessions(count), number_of_2=numbers.files(gone)
            )
        )
    else:
        say(_("Nothing was erased."))


def _bring_back(store: Store) -> None:
    """Put back what was set aside by itself."""
    aside, problems = all_aside()
    for problem in problems:
        note(problem)
    for one in aside:
        bring_back(one)
    sync(store, sessions_folder())
    say(_("Brought back: {number_of}.").format(number_of=numbers.sessions(len(aside))))
    if aside:
        say(
            _(
                "They are set aside again automatically unless you change records.toml: raise "
                "keep_days, or\nset erase_by_itself = false."
            )
        )


def _keep_days() -> int:
    days = read_settings().keep_days
    if days is None:
        do = _("Set keep_days in records.toml, or use --older-than DAYS.")
        raise UserError("sessions_missing", of=_(" past its retention time: none is set"), do=do)
    return days


def _typed(question: str) -> str:
    sys.stdout.write(plain_lines(question))
    sys.stdout.flush()
    return read_line().strip()
