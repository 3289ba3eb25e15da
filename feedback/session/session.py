"""The session: owns all that is known and decided, and says what the shell has to do."""

from __future__ import annotations

from typing import Final

import msgspec

from feedback.cueing.cues import beats
from feedback.cueing.judge import is_finite
from feedback.journal.entries import (
    CueEntry,
    Entry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    RatingEntry,
    StateEntry,
    SummaryEntry,
    VolumeEntry,
)
from feedback.safety.hazards import Edges, HazardWatch
from feedback.safety.rules import By, CueGate, Event, PainLevel, follow
from feedback.safety.sensors import SensorWatch
from feedback.safety.warnings import EDGE, HEART, PAIN, EdgeWarning, Ratings, warning_cue
from feedback.session.clock import Latencies, Stopwatch
from feedback.session.cue_log import CueLog
from feedback.session.interface import (
    Ask,
    CaptureState,
    Change,
    Command,
    Confirm,
    Facts,
    GoOn,
    Outputs,
    Pause,
    Rated,
    Sensed,
    Start,
    StopAsked,
    reason_to_stop,
)
from feedback.session.problems import StandingProblems
from feedback.session.snapshot import focus_shown, readings_shown
from feedback.session.target_changes import TargetChanges
from feedback.session.targets import SessionTargets
from feedback.texts.runner import answer as answer_text
from feedback.training.course import Course
from shared.catalogue import why_not
from shared.changes import Answered, Note, SetVolume
from shared.flow import Body, Cue, EventKind, Measure, Side, Update, View
from shared.messages import SessionState, Snapshot, StopReason
from shared.problems import Problem
from shared.sensor_values import SensorReading
from shared.targets import Athlete, Question

__all__ = ["CaptureState", "Command", "Facts", "Outputs", "Session", "Start", "StopAsked"]

EVENTS: Final = {
    Confirm: Event.CONFIRM,
    Start: Event.BEGIN,
    Pause: Event.PAUSE,
    GoOn: Event.GO_ON,
}
OLDEST_FRAME_NS: Final = 250_000_000
"""Nothing is cued from a frame older than this when the decision falls."""
BEAT_SETTLE_NS: Final = 1_000_000_000
"""The beat comes (back) only after so long without any doubt, so that it never stutters."""


class Session:
    """One run of one athlete: CAUTIONS, READY, RUNNING and PAUSED, then STOPPED for good.

    Pure: every instant is passed in, as integer nanoseconds of the station's clock. Targets
    that ``view`` cannot give are left out. The first target that is left has the focus: only
    the target in focus is cued. ``cautions`` says whether the cautions are still to be
    confirmed; ``edges`` are the belt's, None while they are not known. With a ``course`` the
    targets, the focus and the end are the course's.
    """

    def __init__(
        self,
        athlete: Athlete,
        view: View,
        demo: bool = False,
        time_limit_s: float | None = None,
        cautions: bool = False,
        edges: Edges | None = None,
        course: Course | None = None,
    ) -> None:
        self._athlete = athlete
        self._view = view
        self._demo = demo
        self._time_limit_s = time_limit_s
        targets = [target for target in athlete.targets if not why_not(target.measure, view)]
        self._guide = SessionTargets(targets, course)
        self._desk = TargetChanges(self._guide, athlete.limits, athlete.baseline_cadence_spm)
        self._state = SessionState.CAUTIONS if cautions else SessionState.READY
        self._stop_reason: StopReason | None = None
        self._stopwatch = Stopwatch()
        self._facts = Facts()
        self._watch = HazardWatch(edges)
        self._edge_warning = EdgeWarning()
        self._ratings = Ratings(athlete.limits)
        self._sensors = SensorWatch(athlete.limits)
        self._gate = CueGate()
        self._doubts: tuple[str, ...] = ()
        self._unmeasured: tuple[Problem, ...] = ()
        self._camera_moved = False
        self._edges_lost = False
        self._captured_ns: int | None = None
        self._clean_since_ns: int | None = None
        self._readings: dict[tuple[str, Side | None], Measure] = {}
        self._board = StandingProblems(view)
        self._cues = CueLog()
        self._latencies = Latencies()
        self._steps = 0
        self._step_number = 0
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

    def on_body(self, body: Body, now_ns: int) -> Outputs:
        """Take in what one frame shows of the whole body; before that frame's update."""
        if self._state is SessionState.STOPPED:
            return Outputs()
        self._camera_moved = body.camera_moved
        self._edges_lost = self._watch.edges_lost(body)
        seen = self._watch.see(body, self._state is SessionState.RUNNING)
        if seen.stop is not None:
            return self._stop(seen.stop, "seen by the camera", None, now_ns)
        warning = self._edge_warning.update(seen.near_edge, body.captured_ns, now_ns)
        journal = () if warning is None else (CueEntry(cue=warning),)
        return Outputs(warning=warning, beat_spm=self._beat(now_ns), journal=journal)

    def on_update(self, update: Update, now_ns: int) -> Outputs:
        """Take in what one frame brought to light."""
        if self._state is SessionState.STOPPED:
            return Outputs()
        if self._time_is_up(now_ns):
            return self._stop(StopReason.TIME, "time limit", None, now_ns)
        self._captured_ns = update.captured_ns
        self._doubts = update.doubts
        if self._camera_moved:
            self._doubts = (*update.doubts, "camera_moved")
        # Who reads the cautions at the computer is not running yet.
        reading = self._state is SessionState.CAUTIONS
        self._unmeasured = () if reading else update.unmeasured
        self._latencies.add(now_ns - update.captured_ns)
        journal = self._refresh_problems(now_ns)
        journal += [EventEntry(event=event) for event in update.events]
        measures = [measure for measure in update.measures if is_finite(measure)]
        for measure in measures:
            self._readings[measure.name, measure.side] = measure
            self._step_number = max(self._step_number, measure.step_number)
            journal.append(MeasureEntry(measure=measure))
        cues: list[Cue] = []
        if self._state is SessionState.RUNNING:
            self._steps += sum(event.kind is EventKind.CONTACT for event in update.events)
            self._guide.on_update(msgspec.structs.replace(update, doubts=self._doubts))
            if self._follow(now_ns, journal):
                return self._stop(StopReason.FINISHED, "the course", None, now_ns, journal)
            if not self._blind():
                cues = self._remind(measures, now_ns, journal)
                cues += self._judge(measures, now_ns, journal)
        return Outputs(cues=tuple(cues), beat_spm=self._beat(now_ns), journal=tuple(journal))

    def on_tick(self, now_ns: int, facts: Facts) -> Outputs:
        """Look at the clock and at what the shell knows; at least every 100 ms."""
        self._facts = facts
        journal = self._refresh_problems(now_ns)
        if self._state is SessionState.STOPPED:
            return Outputs()
        stop = reason_to_stop(facts)
        if stop is None and self._time_is_up(now_ns):
            stop = (StopReason.TIME, "time limit")
        running = self._state is SessionState.RUNNING
        if stop is None and running and self._follow(now_ns, journal):
            stop = (StopReason.FINISHED, "the course")
        if stop is not None:
            return self._stop(*stop, None, now_ns, journal)
        for lane in self._guide.lanes:
            if facts.capture is CaptureState.RUNNING:
                lane.expire(now_ns)
            else:
                lane.reset()
        return Outputs(beat_spm=self._beat(now_ns), journal=tuple(journal))

    def on_command(self, command: Command, now_ns: int) -> Outputs:
        """Do what is asked where it belongs; whatever comes after a stop changes nothing."""
        if isinstance(command, Change):
            return self._change(command, now_ns)
        if self._state is SessionState.STOPPED:
            return Outputs()
        match command:
            case StopAsked(reason=reason, source=source, asked_ns=asked_ns):
                return self._stop(reason, source, asked_ns, now_ns)
            case Rated(what=what, value=value, source=source):
                return self._take_rating(what, value, source, now_ns)
            case Sensed(reading=reading):
                return self._sensed(reading, now_ns)
            case Ask(what=what):
                self._ratings.ask(what, now_ns)
                return Outputs(beat_spm=self._beat(now_ns))
            case Confirm() | Start() | Pause() | GoOn():
                return self._move(EVENTS[type(command)], command.by, command.source, now_ns)

    def rate_after_end(self, rated: Rated, now_ns: int) -> Outputs:
        """A rating for the record of a stopped session; there is nothing to stop or warn of.

        Raises ValueError before the stop, where a rating may be one.
        """
        if self._state is not SessionState.STOPPED:
            raise ValueError("the session has not ended")
        self._ratings.take(rated.what, rated.value, now_ns)
        entry = RatingEntry(
            at_ns=now_ns, what=rated.what, value=rated.value, asked=False, source=rated.source
        )
        return Outputs(journal=(entry,))

    # what goes out

    def snapshot(self, now_ns: int) -> Snapshot:
        """All that a screen needs to draw itself."""
        self._snapshots += 1
        lane = self._guide.in_focus
        return Snapshot(
            number=self._snapshots,
            at_ns=now_ns,
            state=self._state,
            stop_reason=self._stop_reason,
            view=self._view,
            code_name=self._athlete.code_name,
            focus=None if lane is None else focus_shown(lane, self._blind(), self._facts.sound_on),
            readings=readings_shown(self._readings.values(), now_ns),
            problems=self._board.shown,
            cues=self._cues.newest,
            elapsed_s=self._elapsed_s(now_ns),
            remaining_s=self._remaining_s(now_ns),
            frames_per_s=self._facts.frames_per_s,
            decision_ms=self._latencies.median_ms,
            sound_on=self._facts.sound_on,
            demo=self._demo,
            warning=self._warning_shown(now_ns),
            pain=self._ratings.newest.get(Question.PAIN),
            asked=self._ratings.asked(now_ns),
            block=self._guide.block,
            step_number=self._step_number,
            targets=self._desk.targets(now_ns),
            changes=self._desk.changes,
            remarks=self._desk.remarks,
            sensors=self._sensors.values(now_ns),
        )

    def summary(self, now_ns: int, measures: tuple[Measure, ...] = ()) -> SummaryEntry:
        """The journal's last entry; ``measures`` are the pipeline's means over the session."""
        return SummaryEntry(
            at_ns=now_ns,
            stop_reason=self._stop_reason,
            elapsed_s=self._elapsed_s(now_ns),
            steps=self._steps,
            cues=self._cues.counts,
            targets=tuple(lane.summary() for lane in self._guide.lanes),
            decision_ms=self._latencies.median_ms,
            measures=tuple(measure for measure in measures if is_finite(measure)),
        )

    # inside

    def _move(self, event: Event, by: By, source: str, now_ns: int) -> Outputs:
        before, self._state = self._state, follow(self._state, event, by)
        if self._state is before:
            return Outputs(beat_spm=self._beat(now_ns))
        if self._state is SessionState.RUNNING:
            self._stopwatch.go(now_ns)
        else:
            self._stopwatch.halt(now_ns)
        for lane in self._guide.lanes:  # the steps before have nothing to do with the ones to come
            lane.reset()
        entry = StateEntry(at_ns=now_ns, state=self._state, source=source)
        return Outputs(beat_spm=self._beat(now_ns), journal=(entry,))

    def _stop(
        self,
        reason: StopReason,
        source: str,
        asked_ns: int | None,
        now_ns: int,
        before: list[Entry] | None = None,
    ) -> Outputs:
        self._state = follow(self._state, Event.STOP, By.STATION)
        self._stop_reason = reason
        self._stopwatch.halt(now_ns)
        # What the last frame showed is of no concern any more; what the shell says still is.
        self._doubts, self._unmeasured = (), ()
        self._edges_lost = False
        self._refresh_problems(now_ns)
        entry = StateEntry(
            at_ns=now_ns, state=self._state, reason=reason, source=source, asked_ns=asked_ns
        )
        return Outputs(stop=reason, journal=(*(before or ()), entry))

    def _take_rating(self, what: Question, value: int, source: str, now_ns: int) -> Outputs:
        asked = self._ratings.asked(now_ns) is what
        level = self._ratings.take(what, value, now_ns)
        self._guide.on_answer(what, value)
        entry = RatingEntry(at_ns=now_ns, what=what, value=value, asked=asked, source=source)
        if level is PainLevel.OVER:
            return self._stop(StopReason.PAIN, source, None, now_ns, [entry])
        warning = None
        if level is PainLevel.CAUTION and self._state is SessionState.RUNNING:
            warning = warning_cue(PAIN, now_ns, now_ns)
        return Outputs(warning=warning, beat_spm=self._beat(now_ns), journal=(entry,))

    def _sensed(self, reading: SensorReading, now_ns: int) -> Outputs:
        """A machine that stops takes the cues with it; only a person sets them going again."""
        found = self._sensors.take(reading)
        if found.stop is not None:
            key = found.stop is StopReason.SAFETY_KEY
            source = "the treadmill" if key else "the heart rate strap"
            return self._stop(found.stop, source, None, now_ns, list(found.journal))
        moved = Outputs(beat_spm=self._beat(now_ns))
        if found.pause:
            moved = self._move(Event.PAUSE, By.STATION, "the treadmill", now_ns)
        warn = found.warn and self._state is SessionState.RUNNING
        warning = warning_cue(HEART, now_ns, now_ns) if warn else None
        return msgspec.structs.replace(
            moved, warning=warning, journal=(*found.journal, *moved.journal)
        )

    def _change(self, change: Change, now_ns: int) -> Outputs:
        """What a clinician asks for; a note is taken to the very end, the rest till the stop."""
        if self._state is SessionState.STOPPED and not isinstance(change.asked, Note):
            answer = Answered(id=change.asked.id, done=False, why=answer_text("answer_stopped"))
            return Outputs(answer=(change.asker, answer))
        if isinstance(change.asked, SetVolume):
            return self._set_volume(change, change.asked, now_ns)
        answer, journal = self._desk.take(
            change.asked, change.source, self._step_number + 1, now_ns
        )
        return Outputs(beat_spm=self._beat(now_ns), journal=journal, answer=(change.asker, answer))

    def _set_volume(self, change: Change, asked: SetVolume, now_ns: int) -> Outputs:
        entry = VolumeEntry(at_ns=now_ns, percent=asked.percent, source=change.source)
        return Outputs(
            beat_spm=self._beat(now_ns),
            volume_percent=asked.percent,
            journal=(entry,),
            answer=(change.asker, Answered(id=asked.id, done=True)),
        )

    def _follow(self, now_ns: int, journal: list[Entry]) -> bool:
        """Do what the course says now; True when it has come to its end."""
        turn = self._guide.follow(self._stopwatch.elapsed_ns(now_ns), self._steps, now_ns)
        journal += self._desk.moved_by_drill(turn.journal, self._step_number + 1)
        if turn.question is not None:
            self._ratings.ask(turn.question, now_ns)
        return turn.over

    def _remind(self, measures: list[Measure], now_ns: int, journal: list[Entry]) -> list[Cue]:
        """The reminder that a session may begin with, once the runner is being measured."""
        if not measures or self._held(now_ns) or not self._gate.is_open(now_ns):
            return []
        newest = measures[-1]
        if not 0 <= now_ns - newest.captured_ns <= OLDEST_FRAME_NS:
            return []
        cue = self._guide.reminder(newest.step_number, newest.captured_ns, now_ns)
        if cue is None:
            return []
        self._given(cue, now_ns, journal)
        return [cue]

    def _judge(self, measures: list[Measure], now_ns: int, journal: list[Entry]) -> list[Cue]:
        """Let every target see the measures; cue the one in focus."""
        cues: list[Cue] = []
        for lane in self._guide.lanes:
            for measure in measures:
                judgement = lane.take(measure)
                if judgement is None:
                    continue
                journal.append(JudgementEntry(judgement=judgement))
                fresh = 0 <= now_ns - judgement.captured_ns <= OLDEST_FRAME_NS
                if lane is not self._guide.in_focus or self._held(now_ns) or not fresh:
                    continue
                if not self._gate.is_open(now_ns):
                    continue
                cue = lane.planner.on_judgement(judgement, now_ns, self._facts.sound_on)
                if cue is not None:
                    cues.append(cue)
                    self._given(cue, now_ns, journal)
        return cues

    def _given(self, cue: Cue, now_ns: int, journal: list[Entry]) -> None:
        """Put down a cue that is given now."""
        self._gate.passed(now_ns)
        self._guide.cued(cue.step_number)
        journal.append(CueEntry(cue=cue))
        self._cues.put(cue)

    def _blind(self) -> bool:
        """True while nothing may be said about the runner."""
        return (
            self._state is not SessionState.RUNNING
            or bool(self._doubts or self._unmeasured)
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
        lane = self._guide.in_focus
        if lane is None or not beats(lane.target):
            return None
        settled = now_ns - self._clean_since_ns >= BEAT_SETTLE_NS
        return lane.target.beat_spm if settled else None

    def _refresh_problems(self, now_ns: int) -> list[Entry]:
        """Bring the problems to show up to date; entries for those that came and went."""
        # These belong to the newest frame: they say nothing while no frames come.
        seen = self._facts.capture is CaptureState.RUNNING
        codes, why = (self._doubts, self._unmeasured) if seen else ((), ())
        if self._edges_lost:
            codes = (*codes, "edges_off")
        sensors = self._sensors.problems(now_ns, self._facts.picture_kmh)
        problems = (*self._facts.problems, *why, *sensors)
        return self._board.put(problems, codes, self._facts.frames_per_s, now_ns)

    def _time_is_up(self, now_ns: int) -> bool:
        return self._time_limit_s is not None and self._elapsed_s(now_ns) >= self._time_limit_s

    def _elapsed_s(self, now_ns: int) -> float:
        return self._stopwatch.elapsed_ns(now_ns) / 1e9

    def _remaining_s(self, now_ns: int) -> float | None:
        """What is left of the course or of the time limit, whichever ends first."""
        run_ns, limit_ns = self._stopwatch.elapsed_ns(now_ns), None
        if self._time_limit_s is not None:
            limit_ns = max(0, round(self._time_limit_s * 1e9) - run_ns)
        left_ns = self._guide.left_ns(run_ns, self._steps, limit_ns)
        return None if left_ns is None else left_ns / 1e9

    def _warning_shown(self, now_ns: int) -> str:
        if self._state is SessionState.RUNNING and self._edge_warning.on:
            return EDGE
        if self._state is SessionState.RUNNING and self._sensors.warns(now_ns):
            return HEART
        stopped = self._state is SessionState.STOPPED
        return PAIN if self._ratings.cautions(now_ns) and not stopped else ""
