"""Sessions past the time that ``records.toml`` sets: named, set aside for a week, then erased.

By itself nothing is set aside or erased whose age hangs on a clock that the records contradict;
whoever is at the computer can always erase it with ``beltside erase --expired``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from feedback.cli.common.archive import open_archive
from feedback.cli.common.tell import note
from feedback.journal.writer import SUFFIX, sessions_folder
from feedback.records.aside import GRACE, Aside, all_aside, bring_back, set_aside
from feedback.records.moments import begins, clock_problem
from feedback.records.owners import read_header
from feedback.records.privacy import erase_aside, files_of_session, is_over_age, over_age
from feedback.records.store import SessionLine, Store
from feedback.records.wall_clock import has_passed
from feedback.records.wording import day, moment
from feedback.storage.settings import Settings
from feedback.terminal.guard import say
from feedback.texts import numbers
from shared.language import _, _n, mark
from shared.problems import UserError

ERASE = mark("To erase: beltside erase --expired")


@dataclass
class _Doubtful:
    """Sessions that nobody but a person may erase, by why that is."""

    clock: list[SessionLine] = field(default_factory=list)
    elsewhere: list[SessionLine] = field(default_factory=list)


def look_at_age(settings: Settings, now: datetime) -> None:
    """Say which sessions are past their time; set them aside where ``records.toml`` says so."""
    aside, problems = all_aside()
    for unreadable in problems:
        note(unreadable)
    if settings.keep_days is None and not aside:
        return
    folder = sessions_folder()
    moments = begins(folder)
    problem = clock_problem(now, max(moments, default=None))
    with open_archive() as store:
        if problem is None:  # else nothing is moved or erased, in either direction
            aside = _bring_back(aside, settings, now)
            aside = _erase(store, aside, moments, now)
        days = settings.keep_days
        if days is None:
            return
        old = over_age(store.sessions(), days, now)
        if old:
            said = _n(
                "{count} session is older than the {days} days set in records.toml:",
                "{count} sessions are older than the {days} days set in records.toml:",
                len(old),
            )
            say(said.format(count=len(old), days=days))
            for line in old:
                say(f"  {line.code_name}, {moment(line.started_utc)}")
        if old and not settings.erase_by_itself:
            say(_("Kept anyway. {erase}").format(erase=_(ERASE)))
        elif old and problem is not None:
            say(
                _(
                    "Kept anyway, because the computer's clock may be wrong (see above). {erase}"
                ).format(erase=_(ERASE))
            )
        elif old:
            aside = _set_aside(store, folder, old, moments, now)
    if aside:
        _tell_aside(aside)


def _bring_back(aside: Sequence[Aside], settings: Settings, now: datetime) -> tuple[Aside, ...]:
    """Put back what is not to go any more, as when the clock was put right; returns the rest."""
    days = settings.keep_days if settings.erase_by_itself else None
    kept = [one for one in aside if days is None or not is_over_age(one.started, days, now)]
    for one in kept:
        bring_back(one)
    if kept:
        count = numbers.sessions(len(kept))
        say(
            _(
                "Brought back, because they are no longer past their retention time: {count}."
            ).format(count=count)
        )
    return tuple(one for one in aside if one not in kept)


def _erase(
    store: Store, aside: Sequence[Aside], moments: Sequence[datetime], now: datetime
) -> tuple[Aside, ...]:
    """Erase what was set aside for long enough; returns the rest."""
    seconds = [one.timestamp() for one in moments]
    gone = [
        one
        for one in aside
        if now - one.since >= GRACE and has_passed(one.since.timestamp(), now.timestamp(), seconds)
    ]
    files = erase_aside(store, gone)
    if gone:
        say(
            _(
                "Erased for good, as set in records.toml: {sessions} set aside for a week, {files}."
            ).format(sessions=numbers.sessions(len(gone)), files=numbers.files(files))
        )
    return tuple(one for one in aside if one not in gone)


def _set_aside(
    store: Store,
    folder: Path,
    old: Sequence[SessionLine],
    moments: Sequence[datetime],
    now: datetime,
) -> tuple[Aside, ...]:
    """Set aside those whose age can be relied on; returns all that is set aside now."""
    seconds = [one.timestamp() for one in moments]
    already = {one.note.uid for one in all_aside()[0]}
    doubtful = _Doubtful()
    moved = []
    for line in old:
        journal = folder / Path(line.journal).name
        began_s = datetime.fromisoformat(line.started_utc).timestamp()
        if line.uid in already:
            moved.append(line.uid)  # broken off last time
        elif not journal.exists():
            doubtful.elsewhere.append(line)
        elif _clock_was_wrong(journal) or not has_passed(began_s, now.timestamp(), seconds):
            doubtful.clock.append(line)
        else:
            set_aside(
                journal.name.partition(".")[0],
                files_of_session(folder, line),
                whose=line,
                uid=line.uid,
                started_utc=line.started_utc,
                now=now,
            )
            moved.append(line.uid)
    store.leave_out(moved)
    if moved:
        count = numbers.sessions(len(moved))
        say(_("Set aside, as set in records.toml: {count}.").format(count=count))
    if doubtful.clock:
        say(
            _(
                "Kept, because the computer's clock may have jumped since they were recorded, or "
                "may\nhave been wrong then: {count}. {erase}"
            ).format(count=len(doubtful.clock), erase=_(ERASE))
        )
    if doubtful.elsewhere:
        say(
            _("Kept, because their records are on another station: {count}. {erase}").format(
                count=len(doubtful.elsewhere), erase=_(ERASE)
            )
        )
    return all_aside()[0]


def _clock_was_wrong(journal: Path) -> bool:
    """Whether the clock already contradicted the records when the session was held."""
    if not journal.name.endswith(SUFFIX):
        return False  # from home: another computer's clock
    try:
        return bool(read_header(journal).newest_before_utc)
    except UserError:
        return True


def _tell_aside(aside: Sequence[Aside]) -> None:
    first = min(one.since for one in aside) + GRACE
    said = _n(
        "{count} session is set aside, and will be erased for good from {day} on.",
        "{count} sessions are set aside, and will be erased for good from {day} on.",
        len(aside),
    )
    say(said.format(count=len(aside), day=day(first.astimezone(UTC).isoformat())))
    say(_("To bring back: beltside erase --bring-back"))
