"""``beltside records``: what is kept of whom, session by session and file by file."""

from __future__ import annotations

import argparse

import msgspec

from feedback.cli.common.archive import listed, open_archive, settings_to_read_with
from feedback.cli.common.records_json import everybody, of_one
from feedback.journal.writer import sessions_folder
from feedback.records.aside import all_aside
from feedback.records.owners import unreadable_files
from feedback.records.people import People, Person
from feedback.records.privacy import over_age
from feedback.records.store import SessionLine, Store
from feedback.records.wording import KINDS, VIEWS, counted, minutes, moment, speed
from feedback.terminal.guard import OK, say
from feedback.terminal.tables import PlainConsole
from shared.language import _, _n


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
        console.print(_("There are no records of sessions yet."))
    for person in people.recorded:
        console.print(
            _("{person}: {counts}").format(
                person=people.shown(person), counts=counted(store.sessions(person.athlete_id))
            )
        )
    for path in unreadable_files(sessions_folder()):
        console.print(_("Owner not known: {path}").format(path=path))
    aside = all_aside()[0]
    if aside:
        said = _("Set aside: {count}. To bring back: beltside erase --bring-back")
        console.print(said.format(count=len(aside)))
    if days is not None and (old := len(over_age(store.sessions(), days))):
        said = _n(
            "Kept longer than {days} day: {count}. Erase with 'beltside erase --expired'.",
            "Kept longer than {days} days: {count}. Erase with 'beltside erase --expired'.",
            days,
        )
        console.print(said.format(days=days, count=old))


def _kind(line: SessionLine) -> str:
    if line.baseline:
        return _("baseline, without cues")
    kind = _(KINDS[line.kind])
    return _("trial (does not count), {kind}").format(kind=kind) if line.trial else kind


def _line(number: int, line: SessionLine) -> str:
    """One session in a row; the number is right-aligned."""
    steps = _n("{count} step", "{count} steps", line.steps).format(count=line.steps)
    said = [
        _kind(line),
        _(VIEWS[line.view]),
        speed(line.belt_speed_kmh),
        minutes(line.run_s),
        steps,
    ]
    if line.pain_worst is not None:
        said.append(_("worst pain {pain}").format(pain=line.pain_worst))
    return f"{number:4}. {moment(line.started_utc)}: {', '.join(said)}"


def _one(console: PlainConsole, store: Store, people: People, person: Person) -> None:
    name, *others = person.names
    said = _("{name}, also called {others}: id {id}") if others else _("{name}: id {id}")
    console.print(said.format(name=name, others=", ".join(others), id=person.athlete_id))
    lines = store.sessions(person.athlete_id)
    shown = listed(lines)
    for number, line in enumerate(shown, start=1):
        console.print(_line(number, line))
    if empty := [line for line in lines if line not in shown]:
        when = "; ".join(moment(line.started_utc) for line in empty)
        console.print(_("Not listed, because no steps were seen: {when}.").format(when=when))
    console.print(_("Files on this computer:"))
    for path in people.files(person):
        console.print(f"  {path}")
    for told in doubts(people, person):
        console.print(told)


def doubts(people: People, person: Person) -> list[str]:
    """What of it may be another athlete's, from before there were ids."""
    told = []
    if namesakes := people.namesakes(person):
        said = _(
            "Note: the records under this id are known only by the name {name}, from before ids "
            "were used. {others} have the same name: the owner was not guessed."
        )
        others = ", ".join(one.told_apart for one in namesakes)
        told.append(said.format(name=person.code_name, others=others))
    for path in people.unclear(person):
        said = _(
            "Note: it is not known whose {path} is. Older versions kept the reports of all names "
            'that read as "{folder}" in one folder. Check it yourself.'
        )
        told.append(said.format(path=path, folder=path.parent.name))
    return told
