"""The entries of a session's journal: what happened, one value each (pure)."""

from __future__ import annotations

from typing import Final, TypeVar

import msgspec

from shared.flow import Cue, GaitEvent, Judgement, Measure, Played, Side
from shared.messages import SessionState, StopReason
from shared.problems import Problem
from shared.sensor_values import SensorReading
from shared.targets import BlockKind, Question, Target

T = TypeVar("T")


class EventEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="event"):
    """A foot met or left the belt."""

    event: GaitEvent


class MeasureEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="measure"):
    """A value was measured."""

    measure: Measure


class JudgementEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="judgement"):
    """A target was judged."""

    judgement: Judgement


class CueEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="cue"):
    """A cue was decided."""

    cue: Cue


class PlayedEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="played"):
    """A cue was heard."""

    played: Played


class ProblemEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="problem"):
    """A problem came up, or is over."""

    at_ns: int
    problem: Problem
    over: bool


class StateEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="state"):
    """The session went into another state."""

    at_ns: int
    state: SessionState
    reason: StopReason | None = None
    source: str = ""
    """Who asked for it, in plain words."""
    asked_ns: int | None = None
    """When it was asked for at the source (the key press), where known."""


class RatingEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="rating"):
    """The runner rated what is felt."""

    at_ns: int
    what: Question
    value: int
    """0 to 10."""
    asked: bool
    """It had been asked for."""
    source: str
    """Where it was entered, in plain words."""


class BlockEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="block"):
    """A block of a drill began."""

    at_ns: int
    number: int
    """From 1."""
    count: int
    kind: BlockKind
    belt_speed_kmh: float | None
    """What the belt was to be set to."""
    cued: Target | None
    """The target with the cues; None: nothing is cued in this block."""
    source: str = ""
    """Who moved the drill on to it; empty: the drill itself."""


class TargetEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="target"):
    """A target was changed: from here on it holds."""

    at_ns: int
    target: Target
    source: str
    """Who or what changed it, in plain words."""
    number: int = 0
    """Of the target in its session, from 0."""
    old: Target | None = None
    """The target before; None in records of older versions."""
    revision: int = 0
    """Counts the changes of this target; 0 in records of older versions."""
    from_step: int = 0
    """Number of the first step that it holds for."""


class SensorEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="sensor"):
    """A treadmill, strap or pod said something that differs from before, or after some seconds."""

    reading: SensorReading


class NoteEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="note"):
    """A clinician's note."""

    at_ns: int
    text: str
    source: str


class VolumeEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="volume"):
    """From here on all is played at this volume."""

    at_ns: int
    percent: int
    """Of the loudest that the session allows."""
    source: str
    """Who changed it, in plain words."""


class LostEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="lost"):
    """The journal could not keep up: so many entries are missing here."""

    count: int


class TargetSummary(msgspec.Struct, frozen=True, kw_only=True):
    """How one target was kept to."""

    measure: str
    side: Side | None
    unit: str
    low: float | None
    high: float | None
    judged: int
    """How many verdicts there were."""
    inside: int
    """How many of them were inside the band."""


class SummaryEntry(msgspec.Struct, frozen=True, kw_only=True, tag_field="entry", tag="summary"):
    """The end of the session; always the last entry."""

    at_ns: int
    stop_reason: StopReason | None
    elapsed_s: float
    steps: int
    """Contacts seen while running."""
    cues: dict[str, int]
    """How many cues of each kind."""
    targets: tuple[TargetSummary, ...]
    decision_ms: float | None
    """Frame arrival to decision, median of the last ones."""
    measures: tuple[Measure, ...]
    """Mean of each measure and side over the session."""
    standing: bool | None = None
    """Whether the runner was seen standing still, so that ankle and leg length count from there;
    None where nothing was measured, and in records of older versions."""
    unmeasured: tuple[Problem, ...] = ()
    """Why no value came in the whole session, the likeliest reason first."""


Entry = (
    EventEntry
    | MeasureEntry
    | JudgementEntry
    | CueEntry
    | PlayedEntry
    | ProblemEntry
    | StateEntry
    | RatingEntry
    | BlockEntry
    | TargetEntry
    | NoteEntry
    | SensorEntry
    | VolumeEntry
    | LostEntry
    | SummaryEntry
)
URGENT: Final = (
    ProblemEntry,
    StateEntry,
    RatingEntry,
    BlockEntry,
    TargetEntry,
    NoteEntry,
    SummaryEntry,
)
"""Saved to the disk at once; the others within a second."""


def in_english(entry: T) -> T:
    """Records are in English, whatever is spoken; what a text was made of stays beside it."""
    if isinstance(entry, ProblemEntry):
        return msgspec.structs.replace(entry, problem=entry.problem.in_english())
    if isinstance(entry, SummaryEntry) and entry.unmeasured:
        told = tuple(problem.in_english() for problem in entry.unmeasured)
        return msgspec.structs.replace(entry, unmeasured=told)
    return entry
