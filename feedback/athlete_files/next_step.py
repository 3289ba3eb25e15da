"""What is next for a runner, from what lies here: baseline, prescription, today's session."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

from feedback.athlete_files.baselines import read_baseline
from feedback.athlete_files.plan_log import read_log
from feedback.athlete_files.prescriptions import read_prescription
from feedback.storage.folders import DataFolder, files, own_folder
from feedback.texts.training import place_in_plan
from feedback.training.plan import Done, Step, propose
from shared.identity import id_of
from shared.language import _, _n
from shared.problems import UserError
from shared.targets import Athlete, Prescription

_HOURS_A_DAY: Final = 24


class NextKind(StrEnum):
    """What is to be done."""

    BASELINE = "baseline"
    PRESCRIBE = "prescribe"
    """There is a baseline; a drill is to be chosen."""
    SESSION = "session"
    REPEAT = "repeat"
    """The same session again, and why."""
    FINISHED = "finished"


@dataclass(frozen=True, slots=True)
class NextStep:
    """What is next for one runner."""

    kind: NextKind
    prescription: Path | None = None
    place: str = ""
    """Of the session in its plan, such as "3 of 8"; a number without a plan."""
    reasons: tuple[str, ...] = ()
    """Why the plan does not go on: keys of feedback.texts.training."""
    wait_h: float = 0.0
    """Hours still to rest before it."""

    def words(self) -> str:
        """The step in a few words, in the language in use."""
        match self.kind:
            case NextKind.BASELINE:
                return _("Baseline")
            case NextKind.PRESCRIBE:
                return _("Choose a drill")
            case NextKind.FINISHED:
                return _("Plan complete")
            case NextKind.REPEAT:
                said = _("Session {place} again").format(place=self.place)
            case _:
                said = _("Session {place}").format(place=self.place)
        if self.wait_h <= 0:
            return said
        hours = max(1, round(self.wait_h))
        if hours < _HOURS_A_DAY:
            wait = _n("in {count} hour", "in {count} hours", hours).format(count=hours)
        else:
            days = round(hours / _HOURS_A_DAY)
            wait = _n("in {count} day", "in {count} days", days).format(count=days)
        return _("{step}, {wait} at the earliest").format(step=said, wait=wait)


@dataclass(frozen=True, slots=True)
class Kept:
    """What this computer keeps of everybody, read once for a whole list."""

    baselines: frozenset[str]
    """Ids of those who have a baseline."""
    prescriptions: dict[str, tuple[Path, Prescription]]
    """The newest one of each, by id."""


def read_kept() -> Kept:
    """Read it; files that cannot be read are left out, and are told of where they are used."""
    baselines: set[str] = set()
    newest: dict[str, tuple[Path, Prescription]] = {}
    folder = own_folder(DataFolder.BASELINES)
    for path in sorted(folder.glob("*.json")) if folder.is_dir() else ():
        with contextlib.suppress(UserError):
            baselines.add(id_of(read_baseline(path)))
    for path in files(own_folder(DataFolder.PRESCRIPTIONS)):
        with contextlib.suppress(UserError):
            one = read_prescription(path)
            before = newest.get(id_of(one))
            if before is None or before[1].written_utc <= one.written_utc:
                newest[id_of(one)] = (path, one)
    return Kept(frozenset(baselines), newest)


def next_step(athlete: Athlete, kept: Kept, now_unix_s: int) -> NextStep:
    """What is next for that runner."""
    whose = id_of(athlete)
    found = kept.prescriptions.get(whose)
    if found is None:
        return NextStep(NextKind.PRESCRIBE if whose in kept.baselines else NextKind.BASELINE)
    path, prescription = found
    done: tuple[Done, ...] = ()
    with contextlib.suppress(UserError):
        done = read_log(prescription).done
    plan = prescription.plan
    if plan is None:
        return NextStep(NextKind.SESSION, path, str(len(done) + 1))
    proposal = propose(plan, done, prescription.limits, now_unix_s)
    if proposal.step is Step.FINISHED:
        return NextStep(NextKind.FINISHED, path)
    return NextStep(
        NextKind.REPEAT if proposal.step is Step.REPEAT else NextKind.SESSION,
        path,
        place_in_plan(plan, proposal.number),
        proposal.reasons,
        proposal.wait_h,
    )
