"""What each block of a session came to, gathered from the entries of its journal (pure)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from statistics import fmean, stdev
from typing import Annotated

import msgspec
from msgspec import Meta

from feedback.journal.entries import (
    BlockEntry,
    CueEntry,
    Entry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    RatingEntry,
    StateEntry,
)
from feedback.training.counting import Counting
from shared.change import error_of_mean
from shared.flow import BandState, CueKind, EventKind, Measure, Side
from shared.messages import SessionState
from shared.targets import Athlete, BlockKind, Question
from shared.units import NS_PER_S

Rated = Annotated[int, Meta(ge=0, le=10)]
Count = Annotated[int, Meta(ge=0)]
Spread = Annotated[float, Meta(ge=0)]


class BlockMean(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Mean of one measure over a block."""

    name: str
    side: Side | None
    unit: str
    mean: float
    values: Count
    sd: Spread | None = None
    """Of the single values; None in files of older versions, and of a single value."""
    sem: Spread | None = None
    """Standard error of the mean (:mod:`shared.change`); None as ``sd``."""
    stated: Spread | None = None
    """Half width of the 90 % interval that the live values state, on average."""
    freedom: Spread | None = None
    """Degrees of freedom of ``sem``; None in files of older versions."""


class TargetKept(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How one target was kept to in a block."""

    measure: str
    side: Side | None
    judged: Count
    inside: Count


class BlockResult(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One block as it was run."""

    number: Count
    kind: BlockKind
    seconds: Annotated[float, Meta(ge=0)]
    """Running time, without pauses."""
    steps: Count
    cued: str
    """The measure that was cued; empty for none."""
    cues: dict[str, Count]
    """How many of each kind."""
    kept: tuple[TargetKept, ...]
    means: tuple[BlockMean, ...]
    answers: tuple[tuple[Question, Rated], ...]
    """In the order in which they were given."""


@dataclass
class _Open:
    entry: BlockEntry
    since_ns: int | None
    ran_ns: int = 0
    steps: int = 0
    cues: Counter[CueKind] = field(default_factory=Counter)
    judged: Counter[tuple[str, Side | None]] = field(default_factory=Counter)
    inside: Counter[tuple[str, Side | None]] = field(default_factory=Counter)
    measures: dict[tuple[str, Side | None, str], list[Measure]] = field(default_factory=dict)
    answers: list[tuple[Question, int]] = field(default_factory=list)

    def halt(self, at_ns: int) -> None:
        if self.since_ns is not None:
            self.ran_ns += at_ns - self.since_ns
            self.since_ns = None

    def result(self) -> BlockResult:
        cued = self.entry.cued
        return BlockResult(
            number=self.entry.number,
            kind=self.entry.kind,
            seconds=self.ran_ns / NS_PER_S,
            steps=self.steps,
            cued="" if cued is None else cued.measure,
            cues={kind.value: count for kind, count in self.cues.items()},
            kept=tuple(
                TargetKept(measure=name, side=side, judged=count, inside=self.inside[name, side])
                for (name, side), count in self.judged.items()
            ),
            means=tuple(_mean(measures) for measures in self.measures.values()),
            answers=tuple(self.answers),
        )


def _mean(measures: Sequence[Measure]) -> BlockMean:
    values = [measure.value for measure in measures]
    first, error = measures[0], error_of_mean(measures)
    return BlockMean(
        name=first.name,
        side=first.side,
        unit=first.unit,
        mean=fmean(values),
        values=len(values),
        sd=stdev(values) if len(values) > 1 else None,
        sem=None if error is None else error.sem,
        stated=fmean(measure.uncertainty for measure in measures),
        freedom=None if error is None else error.freedom,
    )


class BlockTally:
    """Takes the entries as they come; what came before the first block is left out.

    A mean is of what a report counts too: good values, while running and in no doubt.
    """

    def __init__(self, athlete: Athlete) -> None:
        self._open: _Open | None = None
        self._done: list[BlockResult] = []
        self._running = True
        self._counting = Counting(athlete, running=True)

    def take(self, entry: Entry) -> None:
        """Take in one entry."""
        counted = self._counting.take(entry)
        match entry:
            case BlockEntry(at_ns=at_ns):
                self._close(at_ns)
                self._open = _Open(entry, at_ns if self._running else None)
                return
            case StateEntry(state=state):
                self._running = state is SessionState.RUNNING
        block = self._open
        if block is None:
            return
        match entry:
            case StateEntry(at_ns=at_ns, state=SessionState.RUNNING):
                block.since_ns = at_ns
            case StateEntry(at_ns=at_ns):
                block.halt(at_ns)
            case EventEntry(event=event):
                block.steps += event.kind is EventKind.CONTACT
            case CueEntry(cue=cue) if cue.kind is not CueKind.WARNING:
                block.cues[cue.kind] += 1
            case JudgementEntry(judgement=judged) if judged.state is not BandState.UNKNOWN:
                key = (judged.measure, judged.side)
                block.judged[key] += 1
                block.inside[key] += judged.state is BandState.INSIDE
            case MeasureEntry(measure=measure):
                if counted is not None:
                    key_of = (measure.name, measure.side, measure.unit)
                    block.measures.setdefault(key_of, []).append(measure)
            case RatingEntry(what=what, value=value):
                block.answers.append((what, value))

    def results(self, now_ns: int) -> tuple[BlockResult, ...]:
        """Every block so far; the one that is open is counted up to ``now_ns``."""
        self._close(now_ns)
        return tuple(self._done)

    def _close(self, at_ns: int) -> None:
        if self._open is not None:
            self._open.halt(at_ns)
            self._done.append(self._open.result())
            self._open = None


def share_inside(
    blocks: tuple[BlockResult, ...], measure: str, side: Side | None, kind: BlockKind
) -> float | None:
    """Share of the verdicts on a target inside its band, over all blocks of a kind."""
    kept = [
        one
        for block in blocks
        if block.kind is kind
        for one in block.kept
        if (one.measure, one.side) == (measure, side)
    ]
    judged = sum(one.judged for one in kept)
    inside = sum(one.inside for one in kept)
    return inside / judged if judged else None


def mean_of(
    blocks: tuple[BlockResult, ...], measure: str, side: Side | None, unit: str, kind: BlockKind
) -> float | None:
    """Mean of a measure over all blocks of a kind; side None takes both sides."""
    found = [
        mean
        for block in blocks
        if block.kind is kind
        for mean in block.means
        if (mean.name, mean.unit) == (measure, unit) and side in (None, mean.side)
    ]
    values = sum(mean.values for mean in found)
    return sum(mean.mean * mean.values for mean in found) / values if values else None


def answers_of(blocks: tuple[BlockResult, ...], question: Question) -> tuple[int, ...]:
    """Every answer to one question, in order."""
    return tuple(value for block in blocks for what, value in block.answers if what is question)
