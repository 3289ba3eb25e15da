"""Checks every answer of a session against rules that are read off the sequence alone."""

from __future__ import annotations

import math
import random
from typing import Any

from msgspec.structs import replace

from feedback.safety.hazards import Edges
from feedback.safety.rules import By
from feedback.session.interface import (
    CaptureState,
    Change,
    Command,
    Confirm,
    Facts,
    GoOn,
    Outputs,
    Pause,
    Rated,
    Start,
    StopAsked,
)
from feedback.session.session import Session
from shared.catalogue import CATALOGUE
from shared.flow import Body, Cue, CueKind, View
from shared.messages import SessionState, StopReason
from shared.targets import Limits, Question
from tests.feedback.making import MS, S, athlete
from tests.feedback.safety.changing import Bench, Tally
from tests.feedback.safety.courses import FirstTarget, Plan
from tests.feedback.safety.sequences import Shot

EDGES = Edges(View.SIDE, rear=0.2, front=0.8)
OLDEST_NS = 250 * MS
SECONDS_UP, SECONDS_DOWN, SECONDS_GONE = 1.0, 0.5, 3.0
FORGIVEN_NS = 400 * MS
"""No gap between two frames that a hold may bridge is longer."""


class Referee:
    """Feeds one sequence to a session and checks every answer."""

    def __init__(self, rng: random.Random, tally: Tally, plan: Plan | None = None) -> None:
        self.plan = FirstTarget(rng) if plan is None else plan
        self.limits = Limits(pain_stop_over=rng.choice([5, 5, 2]))
        self.time_limit_s = rng.choice([None, None, 8.0 if plan is None else 25.0])
        runner = replace(athlete(*self.plan.targets), limits=self.limits)
        self.session = Session(
            runner,
            View.SIDE,
            time_limit_s=self.time_limit_s,
            cautions=True,
            edges=EDGES,
            course=self.plan.course(self.limits),
        )
        self.bench = Bench(self.plan, tally)
        self.tally = tally
        self.state = SessionState.CAUTIONS
        self.reason: StopReason | None = None
        self.now_ns = 10 * S
        self.facts = Facts()
        self.shot: Shot | None = None
        self.shots: list[tuple[Shot, bool]] = []
        """The frames in the order of their stamps, and whether the session was running."""
        self.ran_ns = 0
        self.since_ns: int | None = None
        self.last_cue_ns: int | None = None
        self.step = self.walked = 0
        self.walked_at: dict[int, int] = {}
        """Steps gone forward in all, by step number: numbers may run back, the gap may not."""
        self.walked_at_cue: int | None = None

    def feed(self, item: Shot | Facts | Command) -> None:
        """Hand over one item and check what comes back."""
        self.tally.events += 1
        if isinstance(item, Shot):
            self._feed_shot(item)
        elif isinstance(item, Facts):
            self.now_ns += 100 * MS
            self.facts = item
            out = self.session.on_tick(self.now_ns, item)
            must = self._stop_of_facts(item)
            self.plan.check_journal(out.journal)
            self._check(out, must, cue_may_come=False)
        elif isinstance(item, Change):
            self.bench.feed(item, self.session, self.now_ns, self.state)
        else:
            out = self.session.on_command(item, self.now_ns)
            self._check(out, self._stop_of(item), cue_may_come=False)
            self._move(item)
            if isinstance(item, Rated) and self.state is not SessionState.STOPPED:
                self.plan.answered(item, self.limits)
        assert self.session.state is self.state, (item, self.session.state, self.state)
        snapshot = self.session.snapshot(self.now_ns)
        if snapshot.focus is not None and snapshot.focus.value is not None:
            assert snapshot.state is SessionState.RUNNING
            assert not self._doubted()
            assert self.plan.focus() is not None
        if snapshot.asked is not None:
            assert self.plan.may_ask(snapshot.asked, self._run_ns()), snapshot.asked
            self.tally.asked += 1

    # what must come of it

    def _feed_shot(self, shot: Shot) -> None:
        self.now_ns = max(self.now_ns, shot.decided_ns)
        newest = not self.shots or shot.body.captured_ns > self.shots[-1][0].body.captured_ns
        running = self.state is SessionState.RUNNING
        for made in shot.update.measures[:1]:
            self.walked += max(0, made.step_number - self.step)
            self.step = made.step_number
            self.walked_at[self.step] = self.walked
        if newest:
            self.shots.append((shot, running))
        out = self.session.on_body(shot.body, self.now_ns)
        must, may = self._stops_of_body() if newest else (None, set())
        if out.stop is not None:
            assert out.stop in may, (out.stop, may)
        self._check(out, must or out.stop, cue_may_come=False)
        if out.stop is None:
            self.shot = shot
        out = self.session.on_update(shot.update, self.now_ns)
        must = StopReason.TIME if self._time_is_up() else self._end_of_plan(shot)
        self.plan.check_journal(out.journal)
        self._check(out, must, cue_may_come=True)
        self.tally.held += self.state is SessionState.RUNNING and self._doubted()
        for cue in out.cues:
            self._check_cue(cue, shot)

    def _check(self, out: Outputs, must_stop: StopReason | None, cue_may_come: bool) -> None:
        if self.state is SessionState.STOPPED:
            assert out == Outputs(), "something came after a stop"
            return
        assert out.stop == must_stop, (out.stop, must_stop)
        if must_stop is not None:
            assert (out.cues, out.beat_spm, out.warning) == ((), None, None)
            assert self.session.state is SessionState.STOPPED
            assert self.session.stop_reason is must_stop
            self.state, self.reason = SessionState.STOPPED, must_stop
            self.tally.stops[must_stop.value] += 1
            self._halt()
            return
        assert cue_may_come or not out.cues
        if out.beat_spm is not None:
            self.tally.beats += 1
            if cue_may_come:
                assert not self._doubted()
            assert self.state is SessionState.RUNNING
            assert self.bench.may_beat(out.beat_spm), out.beat_spm
        self.tally.warnings += out.warning is not None

    def _check_cue(self, cue: Cue, shot: Shot) -> None:
        self.tally.cues += 1
        assert self.state is SessionState.RUNNING
        assert not self._doubted(), shot
        if cue.kind is CueKind.REMINDER:
            self.tally.reminders += 1
            target = self.plan.reminded()
            assert target is not None, "a reminder that the plan does not have"
            assert cue.measure == target.measure
        else:
            focus = self.plan.focus()
            assert focus is not None, "a cue while nothing is cued"
            target = focus
            behind = [
                m
                for m in shot.update.measures
                if m.name == cue.measure == target.measure and m.step_number == cue.step_number
            ]
            assert any(
                m.quality >= CATALOGUE[m.name].quality_floor and math.isfinite(m.value)
                for m in behind
            )
        assert 0 <= self.now_ns - cue.captured_ns <= OLDEST_NS
        if self.last_cue_ns is not None:
            assert self.now_ns - self.last_cue_ns >= S
        walked = self.walked_at[cue.step_number]
        if self.walked_at_cue is not None:
            assert walked - self.walked_at_cue >= target.cue_gap_steps
        self.last_cue_ns, self.walked_at_cue = self.now_ns, walked

    def _doubted(self) -> bool:
        """Whether nothing may be said about the runner now."""
        shot = self.shot
        return (
            self.state is not SessionState.RUNNING
            or self.facts.capture is not CaptureState.RUNNING
            or shot is None
            or bool(shot.update.doubts)
            or shot.body.camera_moved
        )

    def _stop_of(self, command: Command) -> StopReason | None:
        if isinstance(command, StopAsked):
            return command.reason
        if isinstance(command, Rated) and command.what is Question.PAIN:
            return StopReason.PAIN if command.value > self.limits.pain_stop_over else None
        return None

    def _stop_of_facts(self, facts: Facts) -> StopReason | None:
        if facts.screen_gone:
            return StopReason.SCREEN_LOST
        if facts.capture is CaptureState.FAILED:
            return StopReason.FAULT
        if facts.capture is CaptureState.ENDED:
            return StopReason.FINISHED
        return StopReason.TIME if self._time_is_up() else self._end_of_plan(None)

    def _end_of_plan(self, shot: Shot | None) -> StopReason | None:
        """Let the plan go on while running; where it has come to its end, that stops."""
        if self.state is not SessionState.RUNNING:
            return None
        if shot is not None:
            self.plan.saw(shot, doubted=bool(shot.update.doubts) or shot.body.camera_moved)
        over = self.plan.follow(self._run_ns())
        if over is None:  # it may end here, and need not
            over = self.session.state is SessionState.STOPPED
        self.tally.plans_ended += over
        return StopReason.FINISHED if over else None

    def _run_ns(self) -> int:
        return self.ran_ns + (0 if self.since_ns is None else self.now_ns - self.since_ns)

    def _stops_of_body(self) -> tuple[StopReason | None, set[StopReason]]:
        """What must have stopped it by this frame, and what may have."""
        may: set[StopReason] = set()
        for reason, seen, seconds, running_only in (
            (StopReason.HAND, lambda b: b.hand_up, SECONDS_UP, False),
            (StopReason.FALL, lambda b: (b.hips_up or 1.0) < 0.7, SECONDS_DOWN, True),
            (StopReason.OUT_OF_PICTURE, lambda b: not b.present, SECONDS_GONE, True),
        ):
            held_ns, loosely_ns = self._held(seen, running_only)
            if held_ns >= seconds * S:
                return reason, {reason}
            if loosely_ns >= seconds * S:
                may.add(reason)
        newest, running = self.shots[-1]
        lately_ns = newest.body.captured_ns - FORGIVEN_NS
        back = [s for s, _ in self.shots if s.body.captured_ns >= lately_ns and _is_back(s.body)]
        if running and back:
            may.add(StopReason.BELT_EDGE)
        return None, may

    def _held(self, seen: Any, running_only: bool) -> tuple[int, int]:
        """How long it was seen in every frame up to now, and with short misses, in ns."""
        strict = loose = None
        newest_ns = self.shots[-1][0].body.captured_ns
        later_ns = seen_ns = newest_ns
        unbroken = True
        for shot, running in reversed(self.shots):
            at_ns = shot.body.captured_ns
            if later_ns - at_ns > FORGIVEN_NS or (running_only and not running):
                break
            later_ns = at_ns
            if seen(shot.body):
                if unbroken:
                    strict = at_ns
                loose, seen_ns = at_ns, at_ns
            else:
                unbroken = False
                if seen_ns - at_ns > FORGIVEN_NS:
                    break
        return (
            -1 if strict is None else newest_ns - strict,
            -1 if loose is None else newest_ns - loose,
        )

    # its own idea of state and time

    def _move(self, command: Command) -> None:
        states = SessionState
        here = getattr(command, "by", None) is not By.CONSOLE
        match command, self.state:
            case Confirm(), states.CAUTIONS if here:
                self.state = states.READY
            case Start(), states.READY if here:
                self.state, self.since_ns = states.RUNNING, self.now_ns
            case Pause(), states.RUNNING:
                self.state = states.PAUSED
                self._halt()
            case GoOn(), states.PAUSED if here:
                self.state, self.since_ns = states.RUNNING, self.now_ns

    def _halt(self) -> None:
        if self.since_ns is not None:
            self.ran_ns += self.now_ns - self.since_ns
            self.since_ns = None

    def _time_is_up(self) -> bool:
        return self.time_limit_s is not None and self._run_ns() >= self.time_limit_s * S


def _is_back(body: Body) -> bool:
    return body.place is not None and EDGES.left_behind(body.place) < 0.3
