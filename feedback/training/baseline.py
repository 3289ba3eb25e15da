"""A runner's own values without cues: how they are gathered, and what of a change is noise (pure).

The smallest change that can be told from noise is that between two such baselines
(:mod:`shared.change`). It holds for one set-up of the camera; putting it up anew adds to it by an
amount that is not known.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from feedback.training.course import Due
from feedback.training.side_difference import Noise, least_between_sides
from shared.catalogue import CADENCE, CATALOGUE, PERCENT_LEG, STEPS_PER_MIN
from shared.change import error_of_mean, least_change
from shared.flow import EventKind, Measure, Side, Update
from shared.messages import BlockNote, PlannedBlock
from shared.own_values import OwnMeasure, SideDifference
from shared.targets import BlockKind, Question
from shared.units import NS_PER_S
from shared.usable import usable

FEWEST_STEPS: Final = 60
MOST_STEPS_FACTOR: Final = 4
"""Four times the wanted steps without a steady stretch: the runner is not going to be steady."""
FEWEST_VALUES: Final = 20
"""Of one measure and side; fewer say little (an asymmetry needs some 20 strides; computed from a
one-frame error at 60 pictures a second)."""
LARGEST_DRIFT: Final = 0.01
"""Cadence of the second half against the first: a quarter of the tempo change that people notice
(about 4 %: Van Dyck et al. 2015), and about what chance alone gives for steps that vary by 2 %."""
LARGEST_SPREAD: Final = 0.04
"""Cadence SD against its mean (variability under 4 % over a treadmill run: Hanley and Tucker
2018)."""
MOST_DOUBTED: Final = 0.2
"""Share of the pictures with a doubt (common practice, no source)."""
LONGEST_S: Final = 300.0
SPEED_TOLD_NS: Final = 10 * NS_PER_S


class BaselineState(StrEnum):
    """How far a baseline is."""

    TAKING = "taking"
    DONE = "done"
    REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class _Value:
    step: int
    measure: Measure


class BaselineTaker:
    """Gathers the last steps until there are enough of them and they are steady.

    ``refusal`` is the code of a Problem once the state is REFUSED.
    """

    def __init__(self, steps: int = FEWEST_STEPS) -> None:
        self.wanted = steps
        self.state = BaselineState.TAKING
        self.refusal = ""
        self.steps = 0
        """Good steps so far."""
        self._values: dict[tuple[str, Side | None, str], list[_Value]] = defaultdict(list)
        self._pictures = 0
        self._doubted = 0

    def take(self, update: Update, run_ns: int) -> BaselineState:
        """Take in what one frame brought to light; nothing more once done or refused.

        ``run_ns`` is the running time so far, pauses left out.
        """
        if self.state is not BaselineState.TAKING:
            return self.state
        self._pictures += 1
        if update.doubts:
            self._doubted += 1
        else:
            self.steps += sum(event.kind is EventKind.CONTACT for event in update.events)
            for measure in update.measures:
                self._keep(measure)
        self._look(run_ns / 1e9)
        return self.state

    def measures(self) -> tuple[OwnMeasure, ...]:
        """Every measure with enough values, each side and both together, in catalogue order."""
        found = []
        for (name, side, unit), values in self._values.items():
            recent = [value.measure for value in values]
            if len(recent) >= FEWEST_VALUES:
                found += _rows(name, side, unit, recent)
        for name, unit in {(n, u) for n, side, u in self._values if side is not None}:
            both = self._both_sides(name, unit)
            if len(both) >= 2 * FEWEST_VALUES:
                found += _rows(name, None, unit, both)
        order = list(CATALOGUE)
        return tuple(
            sorted(found, key=lambda own: (order.index(own.name), own.side or "", own.unit))
        )

    def _both_sides(self, name: str, unit: str) -> list[Measure]:
        """Both sides' values in the order of the steps; empty unless both are there."""
        sides = [self._values.get((name, side, unit), []) for side in Side]
        if min(map(len, sides)) < FEWEST_VALUES:
            return []
        merged = sorted((value for values in sides for value in values), key=lambda v: v.step)
        return [value.measure for value in merged]

    def _keep(self, measure: Measure) -> None:
        if not usable(measure):
            return
        values = self._values[measure.name, measure.side, measure.unit]
        values.append(_Value(self.steps, measure))
        while values and values[0].step <= self.steps - self.wanted:
            values.pop(0)

    def _look(self, elapsed_s: float) -> None:
        enough = self.steps >= self.wanted
        if enough and self._steady():
            self.state = BaselineState.DONE
            if self._doubted > MOST_DOUBTED * self._pictures:
                self._refuse("baseline_quality")
        elif self.steps >= MOST_STEPS_FACTOR * self.wanted:
            few = len(self._cadence()) < FEWEST_VALUES
            self._refuse("baseline_quality" if few else "baseline_unsteady")
        elif elapsed_s >= LONGEST_S:
            self._refuse("baseline_unsteady" if enough else "baseline_quality")

    def _refuse(self, code: str) -> None:
        self.state = BaselineState.REFUSED
        self.refusal = code

    def _cadence(self) -> list[float]:
        return [v.measure.value for v in self._values.get((CADENCE, None, STEPS_PER_MIN), [])]

    def _steady(self) -> bool:
        values = self._cadence()
        if len(values) < FEWEST_VALUES:
            return False
        mean, half = _mean(values), len(values) // 2
        drift = abs(_mean(values[half:]) - _mean(values[:half]))
        return drift <= LARGEST_DRIFT * mean and _sd(values) <= LARGEST_SPREAD * mean


def side_differences(measures: Iterable[OwnMeasure]) -> tuple[SideDifference, ...]:
    """Right less left of every measure that has both sides."""
    known = {(own.name, own.side, own.unit): own for own in measures}
    found = []
    for (name, side, unit), right in known.items():
        left = known.get((name, Side.LEFT, unit))
        if side is not Side.RIGHT or left is None:
            continue
        found.append(
            SideDifference(
                name=name,
                unit=unit,
                difference=right.mean - left.mean,
                least=least_between_sides(
                    name,
                    Noise(*left.error, left.uncertainty),
                    Noise(*right.error, right.uncertainty),
                ),
            )
        )
    return tuple(found)


def _rows(name: str, side: Side | None, unit: str, measures: list[Measure]) -> list[OwnMeasure]:
    """The measure in its unit, and in % of leg length where that is known for each value."""
    values = [m.value for m in measures]
    rows = [_row(name, side, unit, measures, values, [m.uncertainty for m in measures])]
    legs = [m.percent_leg for m in measures if m.percent_leg is not None]
    if unit != PERCENT_LEG and len(legs) == len(measures):
        scale = _mean([abs(leg) for leg in legs]) / max(_mean([abs(one) for one in values]), 1e-9)
        doubts = [m.uncertainty * scale for m in measures]
        rows.append(_row(name, side, PERCENT_LEG, measures, legs, doubts))
    return [row for row in rows if row is not None]


def _row(
    name: str,
    side: Side | None,
    unit: str,
    measures: list[Measure],
    values: list[float],
    uncertainties: list[float],
) -> OwnMeasure | None:
    """None where too few values stand apart to tell how surely their mean is known."""
    error = error_of_mean(measures, values)
    if error is None:
        return None
    return OwnMeasure(
        name=name,
        side=side,
        unit=unit,
        mean=_mean(values),
        sd=_sd(values),
        values=len(values),
        sem=error.sem,
        least_change=least_change(error, error),
        uncertainty=_mean(uncertainties),
        freedom=error.freedom,
    )


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _sd(values: Sequence[float]) -> float:
    mean = _mean(values)
    return math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))


class BaselineRun:
    """A session that takes a baseline. Implements :class:`feedback.training.course.Course`."""

    def __init__(self, steps: int, belt_speed_kmh: float) -> None:
        self.taker = BaselineTaker(steps)
        self._run_ns = 0
        self._belt_speed_kmh = belt_speed_kmh

    def advance(self, run_ns: int, steps: int) -> Due:  # noqa: ARG002 - the same call as a drill's
        """Nothing is cued; over when the baseline is done or refused."""
        self._run_ns = run_ns
        return Due(
            targets=(),
            focus=None,
            block=BlockNote(
                number=1,
                count=1,
                kind=BlockKind.UNCUED,
                line="block_baseline",
                remaining_steps=max(0, self.taker.wanted - self.taker.steps),
                belt_speed_kmh=self._belt_speed_kmh,
                belt_changes=run_ns < SPEED_TOLD_NS,
            ),
            over=self.taker.state is not BaselineState.TAKING,
        )

    def on_update(self, update: Update) -> None:
        """What one frame brought to light."""
        self.taker.take(update, self._run_ns)

    def planned(self) -> tuple[PlannedBlock, ...]:
        """One block, until there are enough steps."""
        return (
            PlannedBlock(
                kind=BlockKind.UNCUED,
                minutes=None,
                steps=self.taker.wanted,
                belt_speed_kmh=self._belt_speed_kmh,
                cued="",
            ),
        )

    def move_to(self, number: int) -> bool:  # noqa: ARG002 - the same call as a drill's
        """A baseline is one block."""
        return False

    def hold(self, number: int, *, on: bool) -> None:
        """There is no target."""

    def left_ns(self, run_ns: int, steps: int) -> None:
        """It takes as long as it takes to be steady."""

    def on_answer(self, question: Question, value: int) -> None:
        """Nothing is asked."""
