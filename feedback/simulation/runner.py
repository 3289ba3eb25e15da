"""A made-up runner that hears cues and learns: closes the loop without a camera (pure).

It stands for no person, and what it does shows how a plan works, not how well it works. It hears a
cue late, answers it by a part of what is asked for, with noise; it follows a beat as long as its
attention holds. Left alone it drifts back to its habit, and the habit slowly becomes what it does.
It tires: its steps vary more, and it holds on less. All its figures are our choice, of the order of
published ones: steps vary by 1 to 3 % (Hanley and Tucker 2018), and no cue changes the step it came
with.
"""

from __future__ import annotations

import random
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from feedback.training.drill import PLAIN_CADENCE_SPM
from shared.catalogue import CADENCE, CATALOGUE, STEPS_PER_MIN
from shared.flow import Cue, CueKind, EventKind, GaitEvent, Measure, Side, Update
from shared.targets import Goal, Question
from shared.units import NS_PER_S

KNOWN_AFTER_NS: Final = 80_000_000
"""From a contact to the picture from which it is known, as live."""


@dataclass(frozen=True, slots=True)
class Nature:
    """What kind of learner it is."""

    delay_steps: int = 3
    """From a cue to the first step that answers it."""
    answer: float = 0.4
    """Share of the distance to the band's middle that one cue brings."""
    to_the_beat: float = 0.05
    """Share of the distance to the beat's tempo, by step."""
    wandering: float = 0.004
    """Chance, by step, that the attention leaves the beat, until a cue brings it back."""
    drift: float = 0.008
    """Share of the distance back to the habit, by step."""
    habit: float = 0.00008
    """Share by which the habit follows what is done, by step."""
    tiring: float = 0.015
    """Growth of noise and drift, by minute of a session."""
    wavering: float = 0.3
    """Share of an answer that is chance."""
    lost: float = 0.0
    """Chance, by step, that the picture is lost for a few steps."""
    pain: tuple[int, ...] = (1,)
    """Worst pain by session; the last one holds for all further ones."""
    unsettled: frozenset[int] = frozenset()
    """Sessions after which the pain has not settled by the next morning."""


@dataclass
class _Trait:
    """One aim's value as the runner has it."""

    goal: Goal
    habit: float
    now: float
    coming: deque[tuple[int, float]] = field(default_factory=deque)
    """Answers on their way: (step, wanted value)."""


class Learner:
    """Runs step by step; what it learnt stays from session to session."""

    def __init__(self, goals: Sequence[Goal], nature: Nature, seed: int) -> None:
        self._nature = nature
        self._chance = random.Random(seed)  # noqa: S311 - a made-up runner, not a secret
        self._traits = [_Trait(goal, goal.own, goal.own) for goal in goals]
        self._step = 0
        self._at_ns = 0
        self._begun_ns = 0
        self._step_times: deque[float] = deque(maxlen=8)
        self._lost_for = 0
        self._attends = True

    @property
    def at_ns(self) -> int:
        """When the newest step was."""
        return self._at_ns

    def begin(self, at_ns: int) -> None:
        """Step onto the belt for a session: rested, and as the habit is."""
        self._at_ns = self._begun_ns = at_ns
        self._step_times.clear()
        self._lost_for = 0
        self._attends = True
        for trait in self._traits:
            trait.now = trait.habit
            trait.coming.clear()

    def hear(self, cue: Cue) -> None:
        """Take in a cue; its answer comes a few steps later."""
        if cue.kind not in (CueKind.OUT_OF_BAND, CueKind.REMINDER):
            return
        self._attends = True
        for trait in self._traits:
            target = trait.goal.targets[-1]
            if (target.measure, target.side) == (cue.measure, cue.side):
                wanted = trait.goal.aimed[-1] if trait.goal.aimed else _inside(trait.goal)
                late = self._nature.delay_steps + self._chance.randrange(3)
                trait.coming.append((self._step + late, wanted))

    def follow(self, wanted: dict[str, float]) -> None:
        """What the cues of now aim at, by goal: it may lie under the final aim on a ramp."""
        for trait in self._traits:
            if trait.goal.name in wanted:
                aimed = wanted[trait.goal.name]
                trait.coming = deque((step, aimed) for step, _ in trait.coming)

    def step(self, beat_spm: float | None) -> Update:
        """Run one step; what the picture shows of it."""
        self._step += 1
        if self._chance.random() < self._nature.wandering * self._tired():
            self._attends = False
        for trait in self._traits:
            self._move(trait, beat_spm if self._attends else None)
        step_s = 60.0 / self._cadence()
        step_s *= 1.0 + 0.5 * self._own_spread(CADENCE) * self._noise()
        self._at_ns += round(step_s * NS_PER_S)
        self._step_times.append(step_s)
        if self._lost_for == 0 and self._chance.random() < self._nature.lost:
            self._lost_for = 12
        self._lost_for = max(0, self._lost_for - 1)
        return self._update()

    def answer(self, question: Question, session: int, share_done: float) -> int:
        """What the runner answers: 0 to 10."""
        pain = self._nature.pain[min(session, len(self._nature.pain)) - 1]
        if question is Question.PAIN:
            return round(pain * min(1.0, 0.5 + share_done / 2.0))
        if question is Question.EFFORT:
            return min(10, round(3.0 + 2.0 * share_done))
        return max(1, 6 - session // 2)

    def settled(self, session: int) -> bool:
        """Whether the pain after that session had settled by the next morning."""
        return session not in self._nature.unsettled

    def _tired(self) -> float:
        minutes = (self._at_ns - self._begun_ns) / NS_PER_S / 60.0
        return 1.0 + self._nature.tiring * minutes

    def _noise(self) -> float:
        return self._chance.gauss(0.0, 1.0) * self._tired()

    def _move(self, trait: _Trait, beat_spm: float | None) -> None:
        nature = self._nature
        while trait.coming and trait.coming[0][0] <= self._step:
            _, wanted = trait.coming.popleft()
            part = nature.answer * (1.0 + nature.wavering * self._chance.gauss(0.0, 1.0))
            trait.now += part * (wanted - trait.now)
        if trait.goal.targets[-1].measure == CADENCE and beat_spm is not None:
            trait.now += nature.to_the_beat * (beat_spm - trait.now)
        trait.now += nature.drift * self._tired() * (trait.habit - trait.now)
        trait.habit += nature.habit * (trait.now - trait.habit)

    def _cadence(self) -> float:
        for trait in self._traits:
            if trait.goal.targets[-1].measure == CADENCE:
                return trait.now
        return PLAIN_CADENCE_SPM

    def _own_spread(self, measure: str) -> float:
        """Step SD as a share of the value."""
        for trait in self._traits:
            if trait.goal.targets[-1].measure == measure:
                return trait.goal.own_sd * 8**0.5 / abs(trait.goal.own)
        return 0.02

    def _update(self) -> Update:
        side = Side.LEFT if self._step % 2 else Side.RIGHT
        captured_ns = self._at_ns + KNOWN_AFTER_NS
        contact = GaitEvent(
            kind=EventKind.CONTACT,
            side=side,
            at_ns=self._at_ns,
            captured_ns=captured_ns,
            quality=0.9,
            uncertainty_ms=10.0,
        )
        lost = self._lost_for > 0
        measures = (
            [] if lost else [self._own_cadence(captured_ns), *self._others(side, captured_ns)]
        )
        return Update(
            captured_ns=captured_ns,
            index=self._step,
            events=() if lost else (contact,),
            measures=tuple(m for m in measures if m is not None),
            doubts=("quality_low",) if lost else (),
            quality=0.1 if lost else 0.9,
        )

    def _own_cadence(self, captured_ns: int) -> Measure | None:
        if len(self._step_times) < 8:
            return None
        value = 60.0 * len(self._step_times) / sum(self._step_times)
        return self._measure(CADENCE, None, value, STEPS_PER_MIN, 8, captured_ns)

    def _others(self, side: Side, captured_ns: int) -> list[Measure | None]:
        found: list[Measure | None] = []
        for trait in self._traits:
            target = trait.goal.targets[-1]
            if target.measure == CADENCE or target.side not in (None, side):
                continue
            by_side = side if CATALOGUE[target.measure].by_side else None
            value = trait.now + trait.goal.own_sd * self._noise()
            found.append(self._measure(target.measure, by_side, value, target.unit, 1, captured_ns))
        return found

    def _measure(
        self, name: str, side: Side | None, value: float, unit: str, steps: int, captured_ns: int
    ) -> Measure:
        return Measure(
            name=name,
            side=side,
            value=value,
            unit=unit,
            uncertainty=1.0,
            quality=0.9,
            steps=steps,
            step_number=self._step,
            at_ns=self._at_ns,
            captured_ns=captured_ns,
        )


def _inside(goal: Goal) -> float:
    """A value inside a fixed band, as far from its edge as the steps vary."""
    target = goal.targets[-1]
    if target.low is not None and target.high is not None:
        return (target.low + target.high) / 2.0
    if target.high is not None:
        return target.high - goal.own_sd
    return (target.low or 0.0) + goal.own_sd
