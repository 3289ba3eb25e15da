"""The session: owns all that is known and decided, and says what the shell has to do."""

from __future__ import annotations

import math
from collections import Counter, deque
from statistics import median
from typing import Final

from feedback.cues import OUT, beats, words_of
from feedback.exchange import CaptureState, Command, Facts, Outputs, Start, StopAsked
from feedback.lane import Lane
from feedback.records.entries import (
    CueEntry,
    Entry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    ProblemEntry,
    StateEntry,
    SummaryEntry,
)
from shared.catalogue import CATALOGUE, why_not
from shared.messages import CueNote, Focus, Reading, SessionState, Snapshot, StopReason
from shared.problems import Problem, describe
from shared.records import BandState, Cue, CueKind, EventKind, Measure, Side, Update, View
from shared.targets import Athlete

__all__ = ["CaptureState", "Command", "Facts", "Outputs", "Session", "Start", "StopAsked"]

OLDEST_FRAME_NS: Final = 250_000_000
"""Nothing is cued from a frame older than this when the decision falls."""
BEAT_SETTLE_NS: Final = 1_000_000_000
"""The beat comes (back) only after so long without any doubt, so that it never stutters."""
CUES_SHOWN: Final = 8
LATENCIES_KEPT: Final = 100
VIEW_WORDS: Final = {View.SIDE: "the side", View.BEHIND: "behind", View.FRONT: "the front"}


def _is_finite(measure: Measure) -> bool:
    return (
        math.isfinite(measure.value)
        and math.isfinite(measure.uncertainty)
        and math.isfinite(measure.quality)
    )


class Session:
    """One run of one athlete: READY, then RUNNING, then STOPPED for good.

    Pure: every instant is passed in, as integer nanoseconds of the station's clock. Targets
    that ``view`` cannot give are left out. The first target that is left has the focus: only
    the target in focus is cued.
    """

    def __init__(
        self,
        athlete: Athlete,
        view: View,
        demo: bool = False,
        time_limit_s: float | None = None,
    ) -> None:
        self._athlete = athlete
        self._view = view
        self._demo = demo
        self._time_limit_s = time_limit_s
        self._lanes = tuple(
            Lane(target) for target in athlete.targets if not why_not(target.measure, view)
        )
        self._focus = 0
        self._state = SessionState.READY
        self._stop_reason: StopReason | None = None
        self._started_ns: int | None = None
        self._stopped_ns: int | None = None
        self._facts = Facts()
        self._doubts: tuple[str, ...] = ()
        self._captured_ns: int | None = None
        self._clean_since_ns: int | None = None
        self._readings: dict[tuple[str, Side | None], Measure] = {}
        self._shown: dict[str, Problem] = {}
        self._notes: deque[CueNote] = deque(maxlen=CUES_SHOWN)
        self._cues: Counter[str] = Counter()
        self._latencies_ns: deque[int] = deque(maxlen=LATENCIES_KEPT)
        self._steps = 0
        self._snapshots = 0

    @property
    def state(self) -> SessionState:
        """Where the session stands."""
        return self._state

    @property
    def stop_reason(self) -> StopReason | None:
        """Why it stopped; None before."""
        return self._stop_reason

    # what comes in

    def on_update(self, update: Update, now_ns: int) -> Outputs:
        """Take in what one frame brought to light."""
        if self._state is SessionState.STOPPED:
            return Outputs()
        if self._time_is_up(now_ns):
            return self._stop(StopReason.TIME, "time limit", None, now_ns)
        self._captured_ns = update.captured_ns
        self._doubts = update.doubts
        self._latencies_ns.append(now_ns - update.captured_ns)
        journal = self._refresh_problems(now_ns)
        journal += [EventEntry(event=event) for event in update.events]
        measures = [measure for measure in update.measures if _is_finite(measure)]
        for measure in measures:
            self._readings[measure.name, measure.side] = measure
            journal.append(MeasureEntry(measure=measure))
        cues: list[Cue] = []
        if self._state is SessionState.RUNNING:
            self._steps += sum(event.kind is EventKind.CONTACT for event in update.events)
            if not self._blind():
                cues = self._judge(measures, now_ns, journal)
        return Outputs(cues=tuple(cues), beat_spm=self._beat(now_ns), journal=tuple(journal))

    def on_tick(self, now_ns: int, facts: Facts) -> Outputs:
        """Look at the clock and at what the shell knows; at least every 100 ms."""
        self._facts = facts
        journal = self._refresh_problems(now_ns)
        if self._state is SessionState.STOPPED:
            return Outputs()
        stop: tuple[StopReason, str] | None = None
        if facts.screen_gone:
            stop = (StopReason.SCREEN_LOST, f"{facts.screen_gone} screen")
        elif facts.capture is CaptureState.FAILED:
            stop = (StopReason.FAULT, "capture")
        elif facts.capture is CaptureState.ENDED:
            stop = (StopReason.FINISHED, "capture")
        elif self._time_is_up(now_ns):
            stop = (StopReason.TIME, "time limit")
        if stop is not None:
            return self._stop(*stop, None, now_ns, journal)
        for lane in self._lanes:
            if facts.capture is CaptureState.RUNNING:
                lane.expire(now_ns)
            else:
                lane.reset()
        return Outputs(beat_spm=self._beat(now_ns), journal=tuple(journal))

    def on_command(self, command: Command, now_ns: int) -> Outputs:
        """Start or stop; whatever comes after a stop changes nothing."""
        if self._state is SessionState.STOPPED:
            return Outputs()
        if isinstance(command, StopAsked):
            return self._stop(command.reason, command.source, command.asked_ns, now_ns)
        if self._state is SessionState.RUNNING:
            return Outputs(beat_spm=self._beat(now_ns))
        self._state = SessionState.RUNNING
        self._started_ns = now_ns
        entry = StateEntry(at_ns=now_ns, state=self._state, source=command.source)
        return Outputs(beat_spm=self._beat(now_ns), journal=(entry,))

    # what goes out

    def snapshot(self, now_ns: int) -> Snapshot:
        """All that a screen needs to draw itself."""
        self._snapshots += 1
        elapsed_s = self._elapsed_s(now_ns)
        limit_s = self._time_limit_s
        return Snapshot(
            number=self._snapshots,
            at_ns=now_ns,
            state=self._state,
            stop_reason=self._stop_reason,
            view=self._view,
            code_name=self._athlete.code_name,
            focus=self._focus_shown(),
            readings=self._readings_shown(now_ns),
            problems=tuple(self._shown.values()),
            cues=tuple(self._notes),
            elapsed_s=elapsed_s,
            remaining_s=None if limit_s is None else max(0.0, limit_s - elapsed_s),
            frames_per_s=self._facts.frames_per_s,
            decision_ms=self._decision_ms(),
            sound_on=self._facts.sound_on,
            demo=self._demo,
        )

    def summary(self, now_ns: int, measures: tuple[Measure, ...] = ()) -> SummaryEntry:
        """The journal's last entry; ``measures`` are the pipeline's means over the session."""
        return SummaryEntry(
            at_ns=now_ns,
            stop_reason=self._stop_reason,
            elapsed_s=self._elapsed_s(now_ns),
            steps=self._steps,
            cues=dict(self._cues),
            targets=tuple(lane.summary() for lane in self._lanes),
            decision_ms=self._decision_ms(),
            measures=tuple(measure for measure in measures if _is_finite(measure)),
        )

    # inside

    def _stop(
        self,
        reason: StopReason,
        source: str,
        asked_ns: int | None,
        now_ns: int,
        before: list[Entry] | None = None,
    ) -> Outputs:
        self._state = SessionState.STOPPED
        self._stop_reason = reason
        self._stopped_ns = now_ns
        # What the last frame showed is of no concern any more; what the shell says still is.
        self._doubts = ()
        self._refresh_problems(now_ns)
        entry = StateEntry(
            at_ns=now_ns, state=self._state, reason=reason, source=source, asked_ns=asked_ns
        )
        return Outputs(stop=reason, journal=(*(before or ()), entry))

    def _judge(self, measures: list[Measure], now_ns: int, journal: list[Entry]) -> list[Cue]:
        """Let every target see the measures; cue the one in focus."""
        cues: list[Cue] = []
        for number, lane in enumerate(self._lanes):
            for measure in measures:
                judgement = lane.take(measure)
                if judgement is None:
                    continue
                journal.append(JudgementEntry(judgement=judgement))
                fresh = 0 <= now_ns - judgement.captured_ns <= OLDEST_FRAME_NS
                if number != self._focus or self._held(now_ns) or not fresh:
                    continue
                cue = lane.planner.on_judgement(judgement, now_ns, self._facts.sound_on)
                if cue is not None:
                    cues.append(cue)
                    self._note(cue)
                    journal.append(CueEntry(cue=cue))
        return cues

    def _note(self, cue: Cue) -> None:
        self._cues[cue.kind.value] += 1
        self._notes.append(
            CueNote(
                kind=cue.kind,
                measure=cue.measure,
                side=cue.side,
                step_number=cue.step_number,
                at_ns=cue.decided_ns,
                latency_ms=(cue.decided_ns - cue.captured_ns) / 1e6,
            )
        )

    def _blind(self) -> bool:
        """True while nothing may be said about the runner."""
        return (
            self._state is not SessionState.RUNNING
            or bool(self._doubts)
            or self._facts.capture is not CaptureState.RUNNING
        )

    def _held(self, now_ns: int) -> bool:
        """True while no cue may be given: blind, or the newest frame is too old."""
        if self._blind() or self._captured_ns is None:
            return True
        return not 0 <= now_ns - self._captured_ns <= OLDEST_FRAME_NS

    def _beat(self, now_ns: int) -> float | None:
        if self._held(now_ns):
            self._clean_since_ns = None
            return None
        if self._clean_since_ns is None:
            self._clean_since_ns = now_ns
        lane = self._lane_in_focus()
        if lane is None or not beats(lane.target):
            return None
        settled = now_ns - self._clean_since_ns >= BEAT_SETTLE_NS
        return lane.target.beat_spm if settled else None

    def _lane_in_focus(self) -> Lane | None:
        return self._lanes[self._focus] if self._lanes else None

    def _refresh_problems(self, now_ns: int) -> list[Entry]:
        """Bring the problems to show up to date; entries for those that came and went."""
        found = {problem.code: problem for problem in self._facts.problems}
        # The doubts belong to the newest frame: they say nothing while no frames come.
        if self._facts.capture is CaptureState.RUNNING:
            for code in self._doubts:
                found.setdefault(code, self._described(code))
        came = [code for code in found if code not in self._shown]
        went = [code for code in self._shown if code not in found]
        entries: list[Entry] = [
            ProblemEntry(at_ns=now_ns, problem=self._shown[code], over=True) for code in went
        ]
        entries += [ProblemEntry(at_ns=now_ns, problem=found[code], over=False) for code in came]
        self._shown = found
        return entries

    def _described(self, code: str) -> Problem:
        fps = round(self._facts.frames_per_s)
        return describe(code, view=VIEW_WORDS[self._view], fps=fps, seconds=1)

    def _time_is_up(self, now_ns: int) -> bool:
        if self._time_limit_s is None or self._started_ns is None:
            return False
        return self._elapsed_s(now_ns) >= self._time_limit_s

    def _elapsed_s(self, now_ns: int) -> float:
        if self._started_ns is None:
            return 0.0
        end_ns = now_ns if self._stopped_ns is None else self._stopped_ns
        return max(0, end_ns - self._started_ns) / 1e9

    def _decision_ms(self) -> float | None:
        return median(self._latencies_ns) / 1e6 if self._latencies_ns else None

    def _focus_shown(self) -> Focus | None:
        lane = self._lane_in_focus()
        if lane is None:
            return None
        target = lane.target
        newest = None if self._blind() else lane.judge.newest
        state = BandState.UNKNOWN if newest is None else newest.state
        known = newest is not None and state is not BandState.UNKNOWN
        words = ""
        if state in OUT:
            words = words_of(CueKind.OUT_OF_BAND, state, target, self._facts.sound_on)
        return Focus(
            measure=target.measure,
            side=target.side,
            unit=target.unit,
            low=target.low,
            high=target.high,
            value=newest.value if newest is not None and known else None,
            state=state,
            words=words,
        )

    def _readings_shown(self, now_ns: int) -> tuple[Reading, ...]:
        order = list(CATALOGUE)
        newest = sorted(
            self._readings.values(), key=lambda m: (order.index(m.name), str(m.side or ""))
        )
        return tuple(
            Reading(
                name=measure.name,
                side=measure.side,
                value=measure.value,
                unit=measure.unit,
                uncertainty=measure.uncertainty,
                quality=measure.quality,
                steps=measure.steps,
                age_ms=max(0, now_ns - measure.at_ns) / 1e6,
            )
            for measure in newest
        )
