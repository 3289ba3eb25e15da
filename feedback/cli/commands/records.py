"""``beltside records``: what is kept of whom, session by session and file by file."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

import msgspec

from feedback.cli.common.archive import listed, open_archive, settings_to_read_with
from feedback.cli.common.records_json import everybody, of_one
from feedback.journal.writer import sessions_folder
from feedback.records.aside import all_aside
from feedback.records.owners import unreadable_files
from feedback.records.people import People, Person
from feedback.records.privacy import over_age
from feedback.records.store import SessionLine, Store
from feedback.records.wording import KINDS, VIEWS, minutes, moment, speed
from feedback.terminal.guard import OK, say
from feedback.terminal.tables import PlainConsole
from shared.plain_text import number_of


def run(options: argparse.Namespace) -> int:
    """Print the list. Raises UserError for a name that there are no sessions of."""
    console = PlainConsole(soft_wrap=True)
    settings = settings_to_read_with()
    with open_archive(settings) as store:
        people = People(store)
        if options.json:
            one = None if options.athlete is None else people.find(options.athlete)
            data = everybody(store, people) if one is None else of_one(store, people, one)
            say(msgspec.json.encode(data).decode())
        elif options.athlete is None:
            _all(console, store, people, settings.keep_days)
        else:
            _one(console, store, people, people.find(options.athlete))
    return OK


def _all(console: PlainConsole, store: Store, people: People, days: int | None) -> None:
    if not people.recorded:
        console.print("There are no records of sessions yet.")
    for person in people.recorded:
        console.print(f"{people.shown(person)}: {_counts(store.sessions(person.athlete_id))}")
    for path in unreadable_files(sessions_folder()):
        console.print(f"Owner not known: {path}")
    aside, _ = all_aside()
    if aside:
        console.print(f"Set aside: {len(aside)}. To bring back: beltside erase --bring-back")
    if days is not None and (old := len(over_age(store.sessions(), days))):
        console.print(
            f"Kept longer than {days} days: {old}. Erase with 'beltside erase --expired'."
        )


def _counts(lines: Sequence[SessionLine]) -> str:
    """Sessions, and apart from them what is none: "8 sessions, 1 baseline, 2 trials"."""
    steps = [line for line in lines if line.steps]
    counts = {
        "session": sum(line.counts for line in steps),
        "baseline": sum(line.baseline for line in steps),
        "trial": sum(line.trial and not line.baseline for line in steps),
    }
    said = [number_of(count, name) for name, count in counts.items() if count or name == "session"]
    if empty := len(lines) - len(steps):
        said.append(f"{number_of(empty, 'record')} without steps")
    return ", ".join(said)


def _kind(line: SessionLine) -> str:
    if line.baseline:
        return "baseline, without cues"
    return f"trial (does not count), {KINDS[line.kind]}" if line.trial else KINDS[line.kind]


def _one(console: PlainConsole, store: Store, people: People, person: Person) -> None:
    others = f", also called {', '.join(person.names[1:])}" if person.names[1:] else ""
    console.print(f"{person.code_name}{others}: id {person.athlete_id}")
    lines = store.sessions(person.athlete_id)
    shown = listed(lines)
    for number, line in enumerate(shown, start=1):
        pain = "" if line.pain_worst is None else f", worst pain {line.pain_worst}"
        console.print(
            f"{number:4}. {moment(line.started_utc)}: {_kind(line)}, {VIEWS[line.view]}, "
            f"{speed(line.belt_speed_kmh)}, {minutes(line.run_s)}, {line.steps} steps{pain}"
        )
    if empty := [line for line in lines if line not in shown]:
        when = "; ".join(moment(line.started_utc) for line in empty)
        console.print(f"Not listed, because no steps were seen: {when}.")
    console.print("Files on this computer:")
    for path in people.files(person):
        console.print(f"  {path}")
    for told in doubts(people, person):
        console.print(told)


def doubts(people: People, person: Person) -> list[str]:
    """What of it may be another athlete's, from before there were ids."""
    told = []
    if namesakes := people.namesakes(person):
        listed = ", ".join(one.told_apart for one in namesakes)
        told.append(
            f"Note: the records under this id are known only by the name {person.code_name}, from "
            f"before ids were used. {listed} have the same name: the owner was not guessed."
        )
    for path in people.unclear(person):
        told.append(
            f"Note: it is not known whose {path} is. Older versions kept the reports of all names "
            f'that read as "{path.parent.name}" in one folder. Check it yourself.'
        )
    return told
