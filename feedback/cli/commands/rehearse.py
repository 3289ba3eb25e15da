"""``beltside rehearse``: a made-up runner runs a whole plan, in seconds."""

from __future__ import annotations

import argparse
from pathlib import Path

from rich.table import Table

from feedback.athlete_files.prescriptions import read_prescription
from feedback.cli.common.tell import plain
from feedback.simulation.rehearsal import Rehearsed, rehearse
from feedback.simulation.runner import Learner, Nature
from feedback.terminal.guard import OK
from feedback.terminal.tables import PlainConsole
from feedback.texts.training import kind_name, phrase, reasons_in_words
from feedback.training.block_results import mean_of, share_inside
from feedback.training.plan import Step
from shared.catalogue import CATALOGUE
from shared.language import _
from shared.problems import UserError
from shared.targets import BlockKind, Goal, SessionKind

MOST = 30
KINDS = (BlockKind.CUED, BlockKind.UNCUED)
"""Figures stand in this order: with cues / without."""


def run(options: argparse.Namespace) -> int:
    """Rehearse the plan and print a line for each session."""
    path = Path(options.file).expanduser()
    prescription = read_prescription(path)
    if prescription.plan is None:
        raise UserError("plan_missing", path=str(path))
    nature = Nature(pain=options.pain, unsettled=frozenset(options.not_settled))
    learner = Learner(prescription.goals, nature, options.seed)
    console = PlainConsole(soft_wrap=True)
    console.print(phrase("made_up"))
    if not prescription.signature:  # nobody runs it: to be told is enough
        console.print(
            _("Note: this prescription is not signed: there is no proof of who wrote it.")
        )
    held = list(rehearse(prescription, learner, MOST))
    for goal in prescription.goals:
        table = _table(prescription.plan.title, goal)
        for number, one in enumerate(held, start=1):
            table.add_row(*_row(number, one, goal))
        console.print(table)
    for number, session in enumerate(prescription.plan.sessions, start=1):
        if session.kind is not SessionKind.PRACTICE:
            console.print(
                _("No. {number}: {kind_name}.").format(
                    number=number, kind_name=kind_name(session.kind)
                )
            )
    for number, one in enumerate(held, start=1):
        if one.proposal.step is Step.REPEAT:
            why = reasons_in_words(one.proposal.reasons)
            console.print(
                _("Run {number} is the same session again: {why}.").format(number=number, why=why)
            )
    if len(held) == MOST:
        console.print(
            _("Ended after {most} sessions: the plan was not completed.").format(most=MOST)
        )
    console.print(phrase("made_up"))
    return OK


def _table(title: str, goal: Goal) -> Table:
    table = Table(
        title=_("{title} ({name}): simulated data").format(title=title, name=goal.name),
        box=None,
        title_justify="left",
    )
    for heading in ("run", "no.", "min", "cued", "%", "cues"):
        table.add_column(heading, justify="right")
    table.add_column(_("% on target"), justify="right")
    table.add_column(goal.targets[-1].unit, justify="right")
    table.add_column("pain", justify="right")
    return table


def _row(count: int, one: Rehearsed, goal: Goal) -> list[str]:
    minutes = [
        sum(block.seconds for block in one.blocks if block.kind is kind) / 60 for kind in KINDS
    ]
    return [
        str(count),
        str(one.done.number),
        f"{sum(minutes):.1f}",
        f"{minutes[0]:.1f}",
        f"{100 * minutes[0] / sum(minutes):.1f}",
        str(len(one.cues)),
        *_kept(one, goal),
        "-" if one.done.pain_worst is None else str(one.done.pain_worst),
    ]


def _kept(one: Rehearsed, goal: Goal) -> tuple[str, str]:
    """Share in the band and mean of one aim, in blocks with and without cues."""
    target = goal.targets[-1]
    name, side, unit = target.measure, target.side, target.unit
    decimals = max(1, CATALOGUE[name].decimals)
    inside = [share_inside(one.blocks, name, side, kind) for kind in KINDS]
    means = [mean_of(one.blocks, name, side, unit, kind) for kind in KINDS]
    return (
        " / ".join("-" if share is None else f"{100 * share:.0f}" for share in inside),
        " / ".join("-" if mean is None else plain(mean, decimals) for mean in means),
    )
