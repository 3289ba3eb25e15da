"""``beltside plan``: the sessions of a plan, what was held of them, and which one is next."""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Final

from rich.table import Table

from feedback.athlete_files.drills import read_plan
from feedback.athlete_files.plan_log import PlanLog, read_log
from feedback.athlete_files.trust import admit
from feedback.cli.common.tell import voucher_lines
from feedback.cli.common.time_since_session import rest_problem
from feedback.storage.folders import SUFFIX, DataFolder, find
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.training import kind_name, reasons_in_words, step_name
from feedback.training.plan import Done, Step, propose
from shared.language import _
from shared.problems import UserError
from shared.reading import read_toml
from shared.targets import Plan, Prescription

TABLE_WIDTH: Final = 76
"""Letters in a line of the terminal, below which a table does not fit."""


def run(options: argparse.Namespace) -> int:
    """Show a prescription's plan with its log, or a plan by itself."""
    console = PlainConsole(soft_wrap=True)
    path = Path(options.file).expanduser()
    if path.suffix == SUFFIX and "goals" in read_toml(path):
        admitted = admit(path, accept_unsigned=options.accept_unsigned)
        prescription = admitted.prescription
        if prescription.plan is None:
            raise UserError("plan_missing", path=str(path))
        for line in voucher_lines(admitted.voucher, prescription):
            console.print(line)
        log = read_log(prescription)
        _show(console, prescription.plan, log.done)
        _next(console, prescription, prescription.plan, log)
        return OK
    plan = read_plan(find(DataFolder.PLANS, options.file))
    _show(console, plan, ())
    return OK


def _show(console: PlainConsole, plan: Plan, done: tuple[Done, ...]) -> None:
    if console.width < TABLE_WIDTH:
        _show_by_line(console, plan, done)
        return
    table = Table(title=plan.title, box=None, title_justify="left")
    for heading in ("session", "min", _("cued min"), "%"):
        table.add_column(heading, justify="right")
    table.add_column(_("min with, without"))
    table.add_column("type", no_wrap=True)
    table.add_column("held", justify="right")
    table.add_column("pain", justify="right")
    for number, session in enumerate(plan.sessions, start=1):
        table.add_row(
            str(number),
            f"{session.run_min:g}",
            f"{session.cued_min:g}",
            f"{100 * session.cued_min / session.run_min:.1f}",
            " ".join(f"{minutes:g}" for minutes in session.parts_min),
            kind_name(session.kind),
            *_held(done, number),
        )
    console.print(table)


def _show_by_line(console: PlainConsole, plan: Plan, done: tuple[Done, ...]) -> None:
    """A line a session, where the columns of a table would be cut or stacked."""
    console.print(plan.title)
    for number, session in enumerate(plan.sessions, start=1):
        held, pain = _held(done, number)
        line = _("{number}: {run_min:g} min, {cued_min:g} with cues, {kind_name}").format(
            number=number,
            run_min=session.run_min,
            cued_min=session.cued_min,
            kind_name=kind_name(session.kind),
        )
        line += f", held {held}" if held else ""
        line += _(", worst pain {pain}").format(pain=pain) if pain else ""
        console.print(line)


def _held(done: tuple[Done, ...], number: int) -> tuple[str, str]:
    """How often that session was held and its worst pain; empty for none."""
    held = [one for one in done if one.number == number]
    pains = [one.pain_worst for one in held if one.pain_worst is not None]
    return f"{len(held)}x" if held else "", str(max(pains)) if pains else ""


def _next(console: PlainConsole, prescription: Prescription, plan: Plan, log: PlanLog) -> None:
    now_s = round(time.time())
    proposal = propose(plan, log.done, prescription.limits, now_s)
    if proposal.step is Step.FINISHED:
        console.print(f"{step_name(proposal.step)}.")
        return
    why = f" {reasons_in_words(proposal.reasons)}" if proposal.reasons else ""
    console.print(
        _("{step_name}{why}: session {number}.").format(
            step_name=step_name(proposal.step), why=why, number=proposal.number
        )
    )
    unknown = rest_problem(prescription, log, proposal, now_s)
    if unknown is not None:
        problem = unknown.problem
        console.print(f"{problem.title} {problem.action}")
    elif proposal.wait_h > 0:
        console.print(
            _("Next session in {wait_h:.0f} hours at the earliest.").format(wait_h=proposal.wait_h)
        )
