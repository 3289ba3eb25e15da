"""``beltside prescribe``: targets from the newest baseline, a drill and a plan, in one file."""

from __future__ import annotations

import argparse
import re
from datetime import datetime
from pathlib import Path

import msgspec

from feedback.athlete_files.baselines import newest_baseline
from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.prescriptions import prescribe, signed, write_prescription
from feedback.athlete_files.signatures import own_key, short
from feedback.cli.common.athlete import athlete_asked_for
from feedback.cli.common.tell import band_words, note
from feedback.cli.common.tell import plain as rounded
from feedback.records.moments import clock_problem
from feedback.records.wall_clock import Jump, jump
from feedback.records.wording import in_words
from feedback.storage.folders import DataFolder, find, make_private, own_folder
from feedback.storage.settings import data_folder
from feedback.storage.toml_fields import did_you_mean
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.measures import full_title
from feedback.texts.training import sessions_of
from feedback.training.goals import goals_for
from shared.as_typed import as_typed
from shared.catalogue import CATALOGUE
from shared.clock import anchor_now
from shared.flow import View
from shared.identity import in_file_name
from shared.language import _
from shared.problems import UserError
from shared.targets import Drill, Goal, Prescription


def run(options: argparse.Namespace) -> int:
    """Write one prescription. Raises UserError when it cannot be set for this runner."""
    athlete = athlete_asked_for(options.athlete).athlete
    drill = read_drill(find(DataFolder.DRILLS, options.drill))
    plan = None if options.plan is None else read_plan(find(DataFolder.PLANS, options.plan))
    view: View = options.view or drill.view
    if view is not drill.view:
        raise UserError("view_differs", drill_view=drill.view.value, view=view.value)
    speed_kmh = options.belt_kmh or athlete.belt_speed_kmh
    if speed_kmh is None:
        raise UserError("belt_speed_missing")
    changes = _changes(options.change, drill)
    drill = _changed(drill, changes)
    baseline = newest_baseline(athlete, view, speed_kmh, as_typed(options.athlete), note)
    goals = goals_for(baseline, drill, athlete.limits)
    now_utc = anchor_now().wall_utc
    key = own_key(data_folder())
    prescription = signed(prescribe(athlete, baseline, drill, plan, goals, now_utc), key)
    path = keep(prescription, None if options.out is None else options.out.expanduser())
    console = PlainConsole(soft_wrap=True)
    console.print(
        _("{title}, for {code_name} at {belt_speed_kmh:g} km/h:").format(
            title=drill.title, code_name=athlete.code_name, belt_speed_kmh=baseline.belt_speed_kmh
        )
    )
    _tell_moment(console, baseline.taken_utc, now_utc)
    for goal in goals:
        for line in goal_words(goal):
            console.print(f"  {line}")
    if plan is not None:
        console.print(
            _("Plan: {title} ({sessions_of})").format(
                title=plan.title, sessions_of=sessions_of(plan)
            )
        )
    console.print(_("Written to {path}").format(path=path))
    console.print(_("Signed by this station: {short}").format(short=short(prescription.signed_by)))
    console.print(
        _("Next: beltside plan {as_typed}; at home: beltside home {as_typed}").format(
            as_typed=as_typed(path)
        )
    )
    return OK


def _tell_moment(console: PlainConsole, taken_utc: str, now_utc: str) -> None:
    """Of when the baseline is, and whether that can be: the newest one is found by its time."""
    try:
        taken, now = datetime.fromisoformat(taken_utc), datetime.fromisoformat(now_utc)
    except ValueError:  # written by hand
        return
    console.print(_("From the baseline taken {in_words}.").format(in_words=in_words(taken)))
    if jump(now.timestamp(), taken.timestamp()) is Jump.BACK:
        problem = clock_problem(now, taken)
        if problem is not None:
            console.print(
                _("Note: {title} {meaning} {action}").format(
                    title=problem.title, meaning=problem.meaning, action=problem.action
                )
            )


def keep(prescription: Prescription, out: Path | None) -> Path:
    """Write it to ``out``, and where this station keeps its own; where it is. Raises UserError."""
    # A copy stays here in any case: by it a result that comes back is known again.
    kept = _kept_path(prescription)
    write_prescription(prescription, kept)
    if out is not None and out != kept:
        write_prescription(prescription, out)
    return out or kept


def _changes(asked: list[tuple[str, float]], drill: Drill) -> dict[str, float]:
    names = [aim.name for aim in drill.aims]
    for name, _change in asked:
        if name not in names:
            near = did_you_mean(name, names) or "."
            raise UserError(
                "name_unknown", kind="aim", name=name, near=near, known=", ".join(names)
            )
    return dict(asked)


def _changed(drill: Drill, changes: dict[str, float]) -> Drill:
    """The drill with these changes in percent, so that the prescription says what holds."""
    aims = tuple(
        msgspec.structs.replace(
            aim, change_percent=changes[aim.name], change=None, low=None, high=None
        )
        if aim.name in changes
        else aim
        for aim in drill.aims
    )
    return msgspec.structs.replace(drill, aims=aims)


def _kept_path(prescription: Prescription) -> Path:
    folder = own_folder(DataFolder.PRESCRIPTIONS)
    make_private(folder)
    stamp = re.sub(r"[^0-9T]", "", prescription.written_utc[:26])  # to the microsecond
    return folder / f"{in_file_name(prescription)}-{stamp}.toml"


def goal_words(goal: Goal) -> list[str]:
    """An aim, its own value and its bands, as lines."""
    target = goal.targets[-1]
    spec = CATALOGUE[target.measure]
    decimals = max(1, spec.decimals)
    own = f"own {rounded(goal.own, decimals)} {target.unit}"
    lines = [f"{goal.name}: {full_title(target.measure, target.side)}, {own}"]
    for number, step in enumerate(goal.targets):
        aimed = f"aim {rounded(goal.aimed[number], decimals)}, " if goal.aimed else ""
        which = f"step {number + 1}: " if len(goal.targets) > 1 else ""
        lines.append(
            _("    {which}{aimed}band {band_words} {unit}").format(
                which=which, aimed=aimed, band_words=band_words(step.low, step.high), unit=step.unit
            )
        )
    return lines
