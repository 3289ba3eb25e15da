"""Goes through the record of a session and finds what it comes to (pure)."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Sequence
from datetime import UTC, datetime
from statistics import fmean, median, stdev
from typing import Final

import msgspec

from feedback.journal.entries import (
    BlockEntry,
    CueEntry,
    Entry,
    EventEntry,
    MeasureEntry,
    NoteEntry,
    PlayedEntry,
    ProblemEntry,
    RatingEntry,
    StateEntry,
    TargetEntry,
)
from feedback.journal.writer import Header, Recording
from feedback.records.sensor_summary import sensor_summary
from feedback.records.summary import (
    Answer,
    BlockSummary,
    Digest,
    MeanValue,
    NoteSummary,
    Notice,
    SpeedMeans,
    TargetChange,
    ValueAtStep,
)
from feedback.texts.training import place_in_plan
from feedback.training.counting import FEWEST_VALUES, Counted, Counting, SessionPart, main_speed
from shared.catalogue import CATALOGUE
from shared.change import error_of_mean
from shared.flow import EventKind, Measure, Side
from shared.identity import id_of
from shared.messages import SessionState, StopReason
from shared.problems import DOUBTS, Problem
from shared.problems.unmeasured import UNMEASURED
from shared.targets import Target
from shared.units import NS_PER_MS, NS_PER_S

ABSENT: Final = frozenset({"no_runner", "nobody_runs", "picture_lost"})
"""These leave nobody to be measured."""


def uid_of(header: Header) -> str:
    """Name of a session that no other has; of older versions from both clocks at its begin."""
    if header.uid:
        return header.uid
    anchor = header.anchor
    text = f"{anchor.wall_utc}|{anchor.monotonic_ns}|{header.athlete.code_name}"
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def digest(recording: Recording) -> Digest:
    """What the session comes to."""
    return _Reader(recording).digest()


def points(recording: Recording) -> tuple[ValueAtStep, ...]:
    """Every value that counts, in order, for traces by step."""
    return tuple(_Reader(recording).points)


def read_whole(recording: Recording) -> tuple[Digest, tuple[ValueAtStep, ...]]:
    """Both at once."""
    reader = _Reader(recording)
    return reader.digest(), tuple(reader.points)


class _Reader:
    """Goes through the entries of one session, once."""

    def __init__(self, recording: Recording) -> None:
        self._recording = recording
        self._header = recording.header
        self._summary = recording.summary
        self._torn = recording.torn
        self._zero_ns: int | None = None
        self._ended_ns: int | None = None
        self._last_ns = recording.header.anchor.monotonic_ns
        self._state = SessionState.READY
        self._running_since_ns: int | None = None
        self._run_ns = 0
        self._told: dict[str, Problem] = {}
        self._counting = Counting(recording.header.athlete)
        self._stop_reason: StopReason | None = None
        self._steps = 0
        self._speed_values: dict[float | None, int] = defaultdict(int)
        self._counted: list[Counted] = []
        self._answers: list[Answer] = []
        self._changes: list[TargetChange] = []
        self._remarks: list[NoteSummary] = []
        self._blocks: list[tuple[BlockEntry, int]] = []
        self._notices: list[Notice] = []
        self._cues: dict[str, int] = defaultdict(int)
        self._decided_ms: list[float] = []
        self._sounded_ms: list[float] = []
        self.points: list[ValueAtStep] = []
        self._zero_ns = _first_run(recording.entries)
        for entry in recording.entries:
            self._take(entry)

    def digest(self) -> Digest:
        header, summary = self._header, self._summary
        speed = main_speed(self._speed_values, self._counting.belt_speed_kmh)
        others = sorted(
            (one for one in self._speed_values if one is not None and one != speed),
            key=lambda one: -self._speed_values[one],
        )
        prescription = header.prescription
        plan = None if prescription is None else prescription.plan
        start_ns = header.anchor.monotonic_ns if self._zero_ns is None else self._zero_ns
        return Digest(
            uid=uid_of(header),
            code_name=header.athlete.code_name,
            athlete_id=id_of(header.athlete),
            prescription="" if prescription is None else prescription.check,
            started_utc=_second(header.anchor.wall_of(start_ns)),
            view=header.view,
            belt_speed_kmh=speed,
            kind=header.kind,
            number=header.number,
            planned=None if plan is None else len(plan.sessions),
            place="" if plan is None or not header.number else place_in_plan(plan, header.number),
            demo=header.demo,
            baseline=header.baseline,
            trial=header.trial,
            source=header.source,
            version=header.versions.get("beltside", ""),
            run_s=self._run_s() if summary is None else summary.elapsed_s,
            steps=self._steps if summary is None else summary.steps,
            stop_reason=self._stop_reason if summary is None else summary.stop_reason,
            means=self._means(speed),
            targets=() if summary is None else summary.targets,
            first_targets=_begun_with(self._recording),
            goals=() if prescription is None else prescription.goals,
            own_cadence_spm=header.athlete.baseline_cadence_spm,
            answers=tuple(self._answers),
            changes=tuple(self._changes),
            remarks=tuple(self._remarks),
            standing=None if summary is None else summary.standing,
            blocks=self._blocks_run(),
            notices=tuple(self._notices),
            cues=dict(self._cues),
            decided_ms=median(self._decided_ms) if self._decided_ms else None,
            # Without an output a cue's time stands in the record all the same; nothing was heard.
            sounded_ms=median(self._sounded_ms) if self._sounded_ms and header.sound else None,
            lost=self._torn or summary is None,
            unsigned=prescription is not None and not prescription.signature,
            unmeasured=self._unmeasured(),
            ended_s=None if self._ended_ns is None else self._s(self._ended_ns),
            own=header.own,
            baseline_utc="" if prescription is None else prescription.baseline_utc,
            baseline_kmh=None if prescription is None else prescription.belt_speed_kmh,
            other_speeds=tuple(
                SpeedMeans(belt_speed_kmh=one, means=means)
                for one in others
                if (means := self._means(one))
            ),
            sensors=sensor_summary(
                self._recording.entries,
                self._counting.belt.stretches,
                header.athlete.limits,
                start_ns,
                self._last_ns,
            ),
        )

    def _unmeasured(self) -> tuple[Problem, ...]:
        """Why no step counts; what the end says of it first, else what was told meanwhile."""
        summary = self._summary
        if self._steps or (summary is not None and summary.steps):
            return ()
        told = () if summary is None else summary.unmeasured
        found = told or tuple(self._told.values())
        return tuple(problem for problem in found if problem.code not in ABSENT)

    def _take(self, entry: Entry) -> None:
        counted = self._counting.take(entry)
        if counted is not None:
            self._count(counted)
        match entry:
            case StateEntry():
                self._move(entry)
            case EventEntry(event=event):
                self._last_ns = max(self._last_ns, event.captured_ns)
                running = self._state is SessionState.RUNNING
                self._steps += running and event.kind is EventKind.CONTACT
            case MeasureEntry(measure=measure):
                self._last_ns = max(self._last_ns, measure.captured_ns)
            case CueEntry(cue=cue):
                self._cues[cue.kind.value] += 1
                self._decided_ms.append((cue.decided_ns - cue.captured_ns) / NS_PER_MS)
            case PlayedEntry(played=played):
                self._sounded_ms.append((played.sounded_ns - played.captured_ns) / NS_PER_MS)
            case ProblemEntry():
                self._note(entry)
            case RatingEntry(at_ns=at_ns, what=what, value=value, asked=asked, source=source):
                if self._ended_ns is None:
                    self._last_ns = max(self._last_ns, at_ns)
                at_s = self._s(at_ns)
                self._answers.append(
                    Answer(at_s=at_s, what=what, value=value, asked=asked, source=source)
                )
            case TargetEntry(at_ns=at_ns, target=target, source=source, old=old):
                at_s = self._s(at_ns)
                self._changes.append(TargetChange(at_s=at_s, target=target, source=source, old=old))
            case NoteEntry(at_ns=at_ns, text=text, source=source):
                at_s = self._s(at_ns)
                self._remarks.append(NoteSummary(at_s=at_s, text=text, source=source))
            case BlockEntry(at_ns=at_ns):
                self._blocks.append((entry, at_ns))

    def _move(self, entry: StateEntry) -> None:
        self._last_ns = max(self._last_ns, entry.at_ns)
        if self._running_since_ns is not None:
            self._run_ns += entry.at_ns - self._running_since_ns
        running = entry.state is SessionState.RUNNING
        self._running_since_ns = entry.at_ns if running else None
        self._state = entry.state
        if entry.state is SessionState.STOPPED:
            self._ended_ns = entry.at_ns
            self._stop_reason = entry.reason

    def _note(self, entry: ProblemEntry) -> None:
        code = entry.problem.code
        if entry.over:
            return
        if code in DOUBTS or code in UNMEASURED:
            self._told.setdefault(code, entry.problem)
        self._notices.append(
            Notice(at_s=self._s(entry.at_ns), code=code, title=entry.problem.title)
        )

    def _count(self, counted: Counted) -> None:
        measure = counted.measure
        self.points.append(at_step(measure, self._s(measure.at_ns)))
        if counted.part is not None:
            self._speed_values[counted.belt_speed_kmh] += 1
            self._counted.append(counted)

    def _means(self, speed: float | None) -> tuple[MeanValue, ...]:
        """Of what was measured at this belt speed."""
        values: dict[tuple[str, Side | None, str], dict[SessionPart, list[Measure]]] = defaultdict(
            lambda: defaultdict(list)
        )
        for measure, measured_in, at_speed in self._counted:
            if at_speed == speed and measured_in is not None:
                for one in {SessionPart.ALL, measured_in}:
                    values[measure.name, measure.side, measure.unit][one].append(measure)
        found = []
        for parts in values.values():
            for part, measures in parts.items():
                if len(measures) >= FEWEST_VALUES:
                    found.append(mean_of(measures, part))
        order = list(CATALOGUE)
        return tuple(
            sorted(found, key=lambda m: (order.index(m.measure), m.unit, m.part, m.side or ""))
        )

    def _blocks_run(self) -> tuple[BlockSummary, ...]:
        ends = [*(at_ns for _, at_ns in self._blocks), self._last_ns][1:]
        return tuple(
            BlockSummary(
                begin_s=self._s(begin_ns),
                end_s=self._s(end_ns),
                kind=entry.kind,
                belt_speed_kmh=entry.belt_speed_kmh,
                cued="" if entry.cued is None else entry.cued.measure,
            )
            for (entry, begin_ns), end_ns in zip(self._blocks, ends, strict=True)
        )

    def _run_s(self) -> float:
        """Of a record that breaks off: up to the last sign of life."""
        ns = self._run_ns
        if self._running_since_ns is not None:
            ns += max(0, self._last_ns - self._running_since_ns)
        return ns / NS_PER_S

    def _s(self, at_ns: int) -> float:
        zero_ns = self._header.anchor.monotonic_ns if self._zero_ns is None else self._zero_ns
        return (at_ns - zero_ns) / NS_PER_S


def _first_run(entries: Sequence[Entry]) -> int | None:
    for entry in entries:
        if isinstance(entry, StateEntry) and entry.state is SessionState.RUNNING:
            return entry.at_ns
    return None


def _begun_with(recording: Recording) -> tuple[Target, ...]:
    """The targets in force at the start.

    Records of older versions hold those where the prescription leads to; what was in force is
    then in the first change of a target, else in a block that cued it, else in the summary.
    """
    header = recording.header
    if header.begun_with is not None:
        return header.begun_with
    return tuple(_first_of(target, recording) for target in header.athlete.targets)


def _first_of(target: Target, recording: Recording) -> Target:
    own = (target.measure, target.side)
    for entry in recording.entries:
        found: Target | None = None
        match entry:
            case TargetEntry():
                found = entry.old
            case BlockEntry():
                found = entry.cued
        if found is not None and (found.measure, found.side) == own:
            return found
    for kept in () if recording.summary is None else recording.summary.targets:
        if (kept.measure, kept.side) == own:
            return msgspec.structs.replace(target, low=kept.low, high=kept.high)
    return target


def mean_of(measures: Sequence[Measure], part: SessionPart = SessionPart.ALL) -> MeanValue:
    """The mean of one measure and side, from two values on, in their order."""
    first, values = measures[0], [measure.value for measure in measures]
    error = error_of_mean(measures)
    return MeanValue(
        measure=first.name,
        side=first.side,
        unit=first.unit,
        part=part,
        mean=fmean(values),
        sd=stdev(values),
        values=len(values),
        sem=None if error is None else error.sem,
        stated=fmean(measure.uncertainty for measure in measures),
        freedom=None if error is None else error.freedom,
    )


def at_step(measure: Measure, at_s: float) -> ValueAtStep:
    """One value, for traces by step."""
    return ValueAtStep(
        at_s=at_s,
        measure=measure.name,
        side=measure.side,
        unit=measure.unit,
        value=measure.value,
        step_number=measure.step_number,
    )


def _second(when: datetime) -> str:
    return when.astimezone(UTC).replace(microsecond=0).isoformat()
