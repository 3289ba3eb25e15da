"""A drill's targets for one runner, beside the runner's own values, before they are signed (pure).

It reckons as the prescription does, and says in the same words what cannot be set.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import msgspec

from feedback.texts.measures import full_title, unit_text
from feedback.training.goals import goals_for
from shared.catalogue import CADENCE, CATALOGUE
from shared.language import _
from shared.own_values import Baseline
from shared.problems import Problem, UserError
from shared.targets import Aim, Drill, Goal, Limits

_MOST_PERCENT: Final = 60.0
"""Of measures other than the cadence: what a prescription takes at all."""


@dataclass(frozen=True, slots=True)
class AimRow:
    """One aim."""

    name: str
    title: str
    own: str
    """The runner's own value and its step SD, or why there is none."""
    aimed: str
    """What is aimed at in the end, and the band around it."""
    by_steps: str
    """How it gets there; empty for one step."""
    change_percent: float | None
    """As it is now; None where the drill sets it in another way, and it cannot be changed here."""
    least_percent: float
    most_percent: float
    limit: str
    """What the limits allow, in words."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """All aims of a drill."""

    rows: tuple[AimRow, ...]
    problem: Problem | None
    """Why it cannot be set like this."""

    @property
    def can_be_signed(self) -> bool:
        """Whether it can be set."""
        return self.problem is None


def propose_targets(
    baseline: Baseline, drill: Drill, limits: Limits, changes: Mapping[str, float]
) -> Proposal:
    """The targets of a drill, with ``changes`` in percent in place of its own, by aim."""
    drill = changed(drill, changes)
    goals: dict[str, Goal] = {}
    problem: Problem | None = None
    try:
        goals = {goal.name: goal for goal in goals_for(baseline, drill, limits)}
    except UserError as error:
        problem = error.problem
    rows = tuple(_row(aim, goals.get(aim.name), baseline, limits) for aim in drill.aims)
    return Proposal(rows, problem)


def changed(drill: Drill, changes: Mapping[str, float]) -> Drill:
    """The drill with these changes in percent of the runner's own value."""
    aims = tuple(
        msgspec.structs.replace(
            aim, change_percent=changes[aim.name], change=None, low=None, high=None
        )
        if aim.name in changes
        else aim
        for aim in drill.aims
    )
    return msgspec.structs.replace(drill, aims=aims)


def usable_first(
    drills: Iterable[tuple[Path, Drill]], baseline: Baseline, limits: Limits
) -> tuple[tuple[Path, Drill], ...]:
    """Drills for the baseline's view; those that can be set for this runner as they are first.

    Among these, those with one aim come first, and of them those that need the least change: one
    thing at a time is easier learnt (common practice, no source).
    """

    def rank(one: tuple[Path, Drill]) -> tuple[bool, int, float, str]:
        path, drill = one
        least = max((abs(aim.change_percent or 100.0) for aim in drill.aims), default=100.0)
        can = propose_targets(baseline, drill, limits, {}).can_be_signed
        return (not can, len(drill.aims), least, path.stem)

    return tuple(sorted((one for one in drills if one[1].view is baseline.view), key=rank))


def change_words(changes: Mapping[str, float]) -> tuple[str, ...]:
    """What stands for changes after ``prescribe``."""
    words: list[str] = []
    for name, percent in changes.items():
        words += ["--change", f"{name}={percent:g}"]
    return tuple(words)


def _row(aim: Aim, goal: Goal | None, baseline: Baseline, limits: Limits) -> AimRow:
    least, most = -_MOST_PERCENT, _MOST_PERCENT
    limit = _("Within what the program can measure and the runner can do.")
    if aim.measure == CADENCE:
        least, most = -limits.cadence_most_percent, limits.cadence_most_percent
        limit = _("At most {most} % at a time.").format(most=f"{most:g}")
    decimals = max(1, CATALOGUE[aim.measure].decimals)
    own = baseline.find(aim.measure, aim.side, aim.unit)
    aimed, steps = "", ""
    if goal is not None:
        last = goal.targets[-1]
        band = _band(last.low, last.high, unit_text(aim.unit))
        aimed = band
        if goal.aimed:
            value = f"{goal.aimed[-1]:.{decimals}f}"
            aimed = _("{value}, band {band}").format(value=value, band=band)
        if len(goal.aimed) > 1:
            values = ", ".join(f"{one:.{decimals}f}" for one in goal.aimed)
            steps = _("In steps: {values}").format(values=values)
    return AimRow(
        name=aim.name,
        title=full_title(aim.measure, aim.side),
        own=_("not in the baseline")
        if own is None
        else _("{value} {unit}, step SD {sd}").format(
            value=f"{own.mean:.{decimals}f}",
            unit=unit_text(aim.unit),
            sd=f"{own.sd:.{decimals}f}",
        ),
        aimed=aimed,
        by_steps=steps,
        change_percent=aim.change_percent,
        least_percent=least,
        most_percent=most,
        limit=limit,
    )


def _band(low: float | None, high: float | None, unit: str) -> str:
    if low is None:
        return _("up to {high} {unit}").format(high=f"{high:.1f}", unit=unit)
    if high is None:
        return _("from {low} {unit}").format(low=f"{low:.1f}", unit=unit)
    return _("{low} to {high} {unit}").format(low=f"{low:.1f}", high=f"{high:.1f}", unit=unit)
