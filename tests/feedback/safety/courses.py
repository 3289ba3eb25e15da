"""What a session in a random sequence follows, with the rules that hold for it.

Each plan makes the course that is handed to the session, and by itself tells from running time and
steps which block is on, what may be cued, and when it is over.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace

from feedback.journal.entries import BlockEntry, Entry, TargetEntry
from feedback.session.interface import Rated
from feedback.training.baseline import BaselineRun
from feedback.training.course import Course
from feedback.training.drill import DrillRun, RunBlock
from shared.flow import EventKind, Side
from shared.targets import BlockKind, Goal, Limits, Question, Target
from tests.feedback.making import S, cadence_target, strike_target
from tests.feedback.safety.sequences import Shot
from tests.feedback.training.making import drill

TARGETS: tuple[tuple[Target, ...], ...] = (
    (strike_target(average_steps=1, cue_gap_steps=4, hysteresis=0.0),),
    (strike_target(side=Side.LEFT, average_steps=1, cue_gap_steps=4),),
    (cadence_target(average_steps=1, cue_gap_steps=4), strike_target()),
    (),
)
SHORTEN = 15.0
RAMP_EVERY_S = 2.0
PAIN_EVERY_S = 4.0
BASELINE_STEPS = 12


class Plan:
    """No course at all, and no target."""

    targets: tuple[Target, ...] = ()

    def course(self, limits: Limits) -> Course | None:
        """What the session is to follow."""
        return None

    def focus(self) -> Target | None:
        """The target that may be cued now."""
        return None

    def may_beat(self, spm: float) -> bool:
        """Whether the beat may be of this tempo now."""
        focus = self.focus()
        return focus is not None and spm == focus.beat_spm

    def reminded(self) -> Target | None:
        """The target of a reminder that comes now; None where none may come."""
        return None

    def may_ask(self, question: Question, run_ns: int) -> bool:
        """Whether the session may have asked this by itself."""
        return False

    def saw(self, shot: Shot, *, doubted: bool) -> None:
        """A frame was seen while running."""

    def follow(self, run_ns: int) -> bool | None:
        """Whether it is over after so much running time; None: it may be, and need not."""
        return False

    def answered(self, rated: Rated, limits: Limits) -> None:
        """The runner rated something."""

    def check_journal(self, entries: Iterable[Entry]) -> None:
        """Check what one answer of the session puts on record."""
        assert not any(isinstance(entry, BlockEntry | TargetEntry) for entry in entries)


class FirstTarget(Plan):
    """Without a course the first target is cued throughout."""

    def __init__(self, rng: random.Random) -> None:
        self.targets = rng.choice(TARGETS)

    def focus(self) -> Target | None:
        """The first."""
        return self.targets[0] if self.targets else None


class DrillPlan(Plan):
    """A drill of short blocks, with a ramp, questions, and in some sessions a reminder."""

    def __init__(self, rng: random.Random) -> None:
        beats = [cadence_target(low=s - 5, high=s + 5, beat_spm=s, average_steps=1, cue_gap_steps=4)
                 for s in (164.0, 168.0, 172.0)]  # fmt: skip
        strike = strike_target(average_steps=1, cue_gap_steps=rng.choice([4, 6]), hysteresis=0.0)
        goals = [_goal("steps", *beats), _goal("landing", strike)]
        rng.shuffle(goals)
        self.goals = goals[: rng.choice([1, 2, 2])]
        reminds = rng.random() < 0.3  # a session that begins with a reminder has no cues
        blocks = [self._block(rng, n, uncued=reminds) for n in range(rng.randint(2, 6))]
        first = next((n for n, b in enumerate(blocks) if b.kind is BlockKind.UNCUED), None)
        self.remind_at = first if reminds else None
        if self.remind_at is not None:
            aim = rng.randrange(len(self.goals))
            blocks[self.remind_at] = replace(blocks[self.remind_at], remind=aim)
        self.blocks = tuple(blocks)
        self.at = 0
        self.begun_ns = self.begun_steps = self.steps = 0
        self.begun = self.over = False
        self.reminders = 0
        self.cued_ns = [0] * len(self.goals)
        self.levels = [0] * len(self.goals)
        self.held = False
        self.ended_asks: set[Question] = set()
        self.run_ns = 0

    def _block(self, rng: random.Random, number: int, *, uncued: bool) -> RunBlock:
        kinds = [BlockKind.UNCUED] * 2 + [BlockKind.REST]
        kinds += [] if uncued else [BlockKind.CUED] * 4
        kind = rng.choice([*kinds, BlockKind.WARM_UP] if number == 0 else kinds)
        by_steps = rng.random() < 0.25
        return RunBlock(
            kind=kind,
            length_ns=None if by_steps else round(rng.uniform(1.0, 7.0) * S),
            steps=rng.randint(3, 20) if by_steps else None,
            belt_speed_kmh=10.0,
            aim=rng.randrange(len(self.goals)) if kind is BlockKind.CUED else None,
            ask=tuple(rng.sample(list(Question), rng.randint(0, 2))),
        )

    def course(self, limits: Limits) -> Course:
        """The drill, with its times shortened."""
        made = drill(
            ramp_every_min=RAMP_EVERY_S * SHORTEN / 60, pain_every_min=PAIN_EVERY_S * SHORTEN / 60
        )
        return DrillRun(self.blocks, self.goals, made, limits, shorten=SHORTEN)

    def focus(self) -> Target | None:
        """Of the block that is on, once it has begun."""
        aim = self.blocks[self.at].aim
        return None if aim is None or not self.begun else self.goals[aim].targets[0]

    def may_beat(self, spm: float) -> bool:
        """That of the step of the ramp that the record tells of."""
        aim = self.blocks[self.at].aim
        if aim is None or not self.begun:
            return False
        return spm == self.goals[aim].targets[self.levels[aim]].beat_spm

    def reminded(self) -> Target | None:
        """Once, and not before the block that begins with it."""
        if self.remind_at is None or self.at < self.remind_at or self.reminders:
            return None
        self.reminders += 1
        remind = self.blocks[self.remind_at].remind
        assert remind is not None
        return self.goals[remind].targets[0]

    def may_ask(self, question: Question, run_ns: int) -> bool:
        """At the end of a block that asks it; pain also every few seconds."""
        due = question is Question.PAIN and run_ns >= PAIN_EVERY_S * S
        return due or question in self.ended_asks

    def saw(self, shot: Shot, *, doubted: bool) -> None:
        """Steps count, doubted or not."""
        self.steps += sum(event.kind is EventKind.CONTACT for event in shot.update.events)

    def follow(self, run_ns: int) -> bool:
        """Go on from block to block."""
        self.begun = True
        while True:
            block = self.blocks[self.at]
            end_ns = run_ns
            if block.length_ns is not None:
                end_ns = min(run_ns, self.begun_ns + block.length_ns)
                over = run_ns >= self.begun_ns + block.length_ns
            else:
                over = self.steps - self.begun_steps >= (block.steps or 0)
            if block.aim is not None:
                self.cued_ns[block.aim] += end_ns - self.run_ns
            self.run_ns = end_ns
            if not over:
                return False
            self.ended_asks |= set(block.ask)
            if self.at + 1 == len(self.blocks):
                self.over = True
                return True
            self.at += 1
            self.begun_ns, self.begun_steps = end_ns, self.steps

    def answered(self, rated: Rated, limits: Limits) -> None:
        """From the first pain of caution on no target goes further."""
        if rated.what is Question.PAIN and rated.value >= limits.pain_caution_from:
            self.held = True

    def check_journal(self, entries: Iterable[Entry]) -> None:
        """Blocks as they are due; targets step by step, never sooner than the ramp allows."""
        for entry in entries:
            if isinstance(entry, BlockEntry):
                block = self.blocks[entry.number - 1]
                assert entry.number == self.at + 1
                assert entry.kind is block.kind
                # A last block that is over before it could begin cues nothing.
                cued = block.kind is BlockKind.CUED and not self.over
                assert (entry.cued is not None) == cued
            elif isinstance(entry, TargetEntry):
                number = next(
                    n
                    for n, goal in enumerate(self.goals)
                    if goal.targets[0].measure == entry.target.measure
                )
                level = self.goals[number].targets.index(entry.target)
                assert not self.held, "a target went on in spite of pain"
                assert level > self.levels[number]
                assert level <= self.cued_ns[number] / (RAMP_EVERY_S * S)
                self.levels[number] = level


class BaselinePlan(Plan):
    """A baseline: nothing is ever cued."""

    def __init__(self, rng: random.Random) -> None:
        self.wanted = BASELINE_STEPS
        self.steps = 0

    def course(self, limits: Limits) -> Course:
        """With fewer steps than people need."""
        return BaselineRun(self.wanted, 10.0)

    def saw(self, shot: Shot, *, doubted: bool) -> None:
        """Steps count while nothing is in doubt."""
        if not doubted:
            self.steps += sum(event.kind is EventKind.CONTACT for event in shot.update.events)

    def follow(self, run_ns: int) -> bool | None:
        """Done or refused at four times the steps; with enough of them it may be done."""
        if self.steps >= 4 * self.wanted:
            return True
        return None if self.steps >= self.wanted else False

    def check_journal(self, entries: Iterable[Entry]) -> None:
        """It is one block, and nothing is cued in it."""
        for entry in entries:
            assert not isinstance(entry, TargetEntry)
            if isinstance(entry, BlockEntry):
                assert (entry.number, entry.count, entry.cued) == (1, 1, None)


def _goal(name: str, *targets: Target) -> Goal:
    return Goal(
        name=name,
        own=160.0,
        own_sd=1.0,
        least_change=0.5,
        aimed=tuple(target.beat_spm or 10.0 for target in targets),
        targets=targets,
    )
