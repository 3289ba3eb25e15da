"""Runs a drill: which block is on, which target is in force, what is asked when (pure).

A block with cues has one aim in focus; with two aims they take turns by block. The target walks up
its ramp while its aim is being cued, and stands still from a pain answer of caution on.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from feedback.training.course import Due
from shared.flow import BandState, Update
from shared.messages import BlockNote, PlannedBlock
from shared.targets import (
    Block,
    BlockKind,
    Drill,
    Goal,
    Limits,
    PlanSession,
    Question,
    SessionKind,
    Target,
)
from shared.units import NS_PER_S

MAIN: Final = frozenset({BlockKind.CUED, BlockKind.UNCUED, BlockKind.REST})
NEW_BLOCK_NS: Final = 10 * NS_PER_S
"""For so long a new block tells what the belt is to be set to."""
MINUTE_NS: Final = 60 * NS_PER_S
PLAIN_CADENCE_SPM: Final = 165.0
"""What a drill's length is counted with where nobody's own cadence is known (our choice)."""


@dataclass(frozen=True, slots=True)
class RunBlock:
    """One block as it is run; it lasts for ``length_ns`` or for ``steps``."""

    kind: BlockKind
    length_ns: int | None
    steps: int | None
    belt_speed_kmh: float
    aim: int | None = None
    """Number of the aim that is cued; None: nothing is."""
    remind: int | None = None
    """Number of the aim that is called to mind as the block begins."""
    ask: tuple[Question, ...] = ()


def lay_out(
    drill: Drill,
    belt_speed_kmh: float,
    session: PlanSession | None = None,
    number: int = 1,
    shorten: float = 1.0,
) -> tuple[RunBlock, ...]:
    """The blocks of one session.

    Without a plan's session: the drill's own. With one, its parts take the place of everything
    between the drill's warm-up and cool-down; ``number`` is the session's, from 1: sessions begin
    with one and the other of two aims in turn. ``shorten`` divides every length, to try a drill
    out.
    """
    blocks = drill.blocks if session is None else _with_parts(drill, session)
    turns = _Turns(drill, number)
    run: list[RunBlock] = []
    for block in blocks:
        run += [_as_run(piece, aim, belt_speed_kmh) for piece, aim in turns.split(block)]
    if session is not None and session.kind is SessionKind.REMINDER:
        first = next(n for n, block in enumerate(run) if block.kind is BlockKind.UNCUED)
        run[first] = replace(run[first], remind=(number - 1) % len(drill.aims))
    return tuple(_shortened(block, shorten) for block in run)


def _with_parts(drill: Drill, session: PlanSession) -> tuple[Block, ...]:
    main = [n for n, block in enumerate(drill.blocks) if block.kind in MAIN]
    before, after = drill.blocks[: main[0]], drill.blocks[main[-1] + 1 :]
    asked = {question for n in main for question in drill.blocks[n].ask}
    ask = tuple(question for question in Question if question in asked)
    parts = tuple(
        Block(
            kind=BlockKind.UNCUED if part % 2 else BlockKind.CUED,
            minutes=minutes,
            ask=ask,
        )
        for part, minutes in enumerate(session.parts_min)
        if minutes > 0
    )
    return (*before, *parts, *after)


class _Turns:
    """Gives each cued block its aim; cuts long ones into turns where there are two."""

    def __init__(self, drill: Drill, number: int) -> None:
        self._names = [aim.name for aim in drill.aims]
        self._turn_min = drill.turn_min
        self._next = number - 1

    def split(self, block: Block) -> list[tuple[Block, int | None]]:
        if block.kind is not BlockKind.CUED:
            return [(block, None)]
        if block.focus:
            return [(block, self._names.index(block.focus))]
        turns = 1
        if len(self._names) > 1 and block.minutes is not None:
            turns = math.ceil(block.minutes / self._turn_min - 1e-9)
        pieces: list[tuple[Block, int | None]] = []
        for turn in range(turns):
            ask = block.ask if turn == turns - 1 else ()
            length = None if block.minutes is None else block.minutes / turns
            piece = Block(
                kind=block.kind,
                minutes=length,
                steps=block.steps,
                belt_speed_kmh=block.belt_speed_kmh,
                ask=ask,
            )
            pieces.append((piece, self._next % len(self._names)))
            self._next += 1
        return pieces


def _as_run(block: Block, aim: int | None, belt_speed_kmh: float) -> RunBlock:
    return RunBlock(
        kind=block.kind,
        length_ns=None if block.minutes is None else round(block.minutes * MINUTE_NS),
        steps=block.steps,
        belt_speed_kmh=block.belt_speed_kmh or belt_speed_kmh,
        aim=aim,
        ask=block.ask,
    )


def _shortened(block: RunBlock, shorten: float) -> RunBlock:
    if block.length_ns is not None:
        return replace(block, length_ns=round(block.length_ns / shorten))
    return replace(block, steps=max(1, round((block.steps or 1) / shorten)))


def planned_ns(blocks: Sequence[RunBlock], steps_per_min: float) -> int:
    """How long the blocks last in all, with blocks of steps at that cadence."""
    step_ns = MINUTE_NS / steps_per_min
    return sum(
        round((block.steps or 0) * step_ns) if block.length_ns is None else block.length_ns
        for block in blocks
    )


class DrillRun:
    """One session's way through its blocks. Implements :class:`feedback.training.course.Course`.

    ``levels`` are the steps of the ramp, by the goal's name, to begin with (0 is the first).
    """

    def __init__(
        self,
        blocks: Sequence[RunBlock],
        goals: Sequence[Goal],
        drill: Drill,
        limits: Limits,
        levels: Mapping[str, int] | None = None,
        shorten: float = 1.0,
    ) -> None:
        if not blocks:
            raise ValueError("a drill without blocks")
        self._blocks = tuple(blocks)
        self._goals = tuple(goals)
        self._limits = limits
        self._ramp_every_ns = round(drill.ramp_every_min * MINUTE_NS / shorten)
        self._pain_every_ns = round(drill.pain_every_min * MINUTE_NS / shorten)
        begin = levels or {}
        self._levels = [
            min(max(0, begin.get(goal.name, 0)), len(goal.targets) - 1) for goal in self._goals
        ]
        self._on_level_ns = [0] * len(self._goals)
        self._held = False
        self._by_hand = [False] * len(self._goals)
        self._at = 0
        self._run_ns = 0
        self._begun_ns = 0
        self._begun_steps = 0
        self._steps = 0
        self._kmh_before: float | None = None
        self._asked_pain = 0
        self._questions: list[Question] = []
        self._remind = self._blocks[0].remind
        self._over = False

    @property
    def levels(self) -> dict[str, int]:
        """How far up its ramp each goal is, by name."""
        return dict(zip((goal.name for goal in self._goals), self._levels, strict=True))

    @property
    def block(self) -> RunBlock:
        """The block that is on, or the last one."""
        return self._blocks[self._at]

    def on_update(self, update: Update) -> None:
        """A drill goes by time and steps alone."""

    def on_answer(self, question: Question, value: int) -> None:
        """From a pain of caution on, no target goes further in this session."""
        if question is Question.PAIN and value >= self._limits.pain_caution_from:
            self._held = True

    def hold(self, number: int, *, on: bool) -> None:
        """While a clinician has set it, a target climbs no ramp, unseen either.

        Afterwards it first stays where it is for its time, and for a minute at least: changes
        within one count as one.
        """
        if self._by_hand[number] and not on:
            self._on_level_ns[number] = min(0, self._ramp_every_ns - MINUTE_NS)
        self._by_hand[number] = on

    def left_ns(self, run_ns: int, steps: int) -> int | None:  # noqa: ARG002 - as a baseline's
        """The rest of this block and of those to come; not known where one lasts for steps."""
        lengths = [block.length_ns for block in self._blocks[self._at :]]
        if self._over or any(length is None for length in lengths):
            return 0 if self._over else None
        return max(0, self._begun_ns + sum(length or 0 for length in lengths) - run_ns)

    def planned(self) -> tuple[PlannedBlock, ...]:
        """The blocks, in order."""
        return tuple(
            PlannedBlock(
                kind=block.kind,
                minutes=None if block.length_ns is None else block.length_ns / MINUTE_NS,
                steps=block.steps,
                belt_speed_kmh=block.belt_speed_kmh,
                cued="" if block.aim is None else self._goals[block.aim].targets[0].measure,
            )
            for block in self._blocks
        )

    def move_to(self, number: int) -> bool:
        """Begin block ``number``, from 1, now; False when there is none, or the drill is over."""
        if self._over or not 1 <= number <= len(self._blocks):
            return False
        self._leave_block(number - 1, self._run_ns, self._steps)
        return True

    def advance(self, run_ns: int, steps: int) -> Due:
        """What is due after so much running time and so many steps; neither ever goes back."""
        self._steps = steps
        while not self._over:
            end_ns = self._end_ns(run_ns, steps)
            self._spend(min(run_ns, end_ns if end_ns is not None else run_ns))
            if end_ns is None:
                break
            self._next_block(end_ns, steps)
        self._ask_for_pain(run_ns)
        question = self._questions.pop(0) if self._questions else None
        remind = None
        if run_ns or steps:  # a session also asks what it begins with: nobody is running then
            remind, self._remind = self._remind, None
        return Due(
            targets=tuple(self._target(number) for number in range(len(self._goals))),
            focus=None if self._over else self.block.aim,
            block=self._note(run_ns, steps),
            question=question,
            remind=None if remind is None else (remind, self._side_to_fear(remind)),
            over=self._over,
        )

    def _target(self, number: int) -> Target:
        return self._goals[number].targets[self._levels[number]]

    def _side_to_fear(self, number: int) -> BandState:
        """On which side of its band the runner's own value lies."""
        goal = self._goals[number]
        if goal.aimed:
            return BandState.BELOW if goal.aimed[-1] > goal.own else BandState.ABOVE
        low = goal.targets[-1].low
        return BandState.BELOW if low is not None and goal.own < low else BandState.ABOVE

    def _end_ns(self, run_ns: int, steps: int) -> int | None:
        """When the block that is on ended; None while it has not."""
        block = self.block
        if block.length_ns is not None:
            end_ns = self._begun_ns + block.length_ns
            return end_ns if run_ns >= end_ns else None
        return run_ns if steps - self._begun_steps >= (block.steps or 0) else None

    def _spend(self, until_ns: int) -> None:
        """Count the time up to then for the ramp of the aim that is cued."""
        span_ns, self._run_ns = until_ns - self._run_ns, until_ns
        aim = self.block.aim
        if aim is None or self._held or self._by_hand[aim]:
            return
        self._on_level_ns[aim] += span_ns
        last = len(self._goals[aim].targets) - 1
        while self._levels[aim] < last and self._on_level_ns[aim] >= self._ramp_every_ns:
            self._levels[aim] += 1
            self._on_level_ns[aim] -= self._ramp_every_ns

    def _next_block(self, end_ns: int, steps: int) -> None:
        if self._at + 1 == len(self._blocks):
            self._ask_for(self.block)
            self._over = True
            return
        self._leave_block(self._at + 1, end_ns, steps)

    def _ask_for(self, block: RunBlock) -> None:
        self._questions += [q for q in block.ask if q not in self._questions]

    def _leave_block(self, number: int, end_ns: int, steps: int) -> None:
        """Go on to block ``number``, from 0."""
        self._ask_for(self.block)
        self._kmh_before = self.block.belt_speed_kmh
        self._at = number
        self._begun_ns, self._begun_steps = end_ns, steps
        self._remind = self.block.remind

    def _ask_for_pain(self, run_ns: int) -> None:
        due = run_ns // self._pain_every_ns
        if due > self._asked_pain and not self._over:
            self._asked_pain = due
            if Question.PAIN not in self._questions:
                self._questions.append(Question.PAIN)

    def _note(self, run_ns: int, steps: int) -> BlockNote:
        block = self.block
        remaining_s = remaining_steps = None
        if block.length_ns is not None:
            remaining_s = max(0.0, (self._begun_ns + block.length_ns - run_ns) / NS_PER_S)
        else:
            remaining_steps = max(0, (block.steps or 0) - (steps - self._begun_steps))
        fresh = run_ns - self._begun_ns < NEW_BLOCK_NS
        return BlockNote(
            number=self._at + 1,
            count=len(self._blocks),
            kind=block.kind,
            line=f"block_{block.kind}",
            remaining_s=remaining_s,
            remaining_steps=remaining_steps,
            belt_speed_kmh=block.belt_speed_kmh,
            belt_changes=fresh and block.belt_speed_kmh != self._kmh_before,
        )
