"""Random sequences of frames, faults and commands against a session, checked by rules of their own.

Run many: python -m tests.feedback.safety.histories 200000 --seed 7

The rules are read off the sequence itself, not off the session: when a cue is allowed, when the
session must have stopped, and when it must not. Times are plain integers.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from msgspec.structs import replace

from feedback.exchange import (
    CaptureState,
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
from feedback.safety import By
from feedback.session import Session
from feedback.watch import Edges
from shared.catalogue import CATALOGUE
from shared.messages import SessionState, StopReason
from shared.problems import describe
from shared.records import Body, Cue, Measure, Side, Update, View
from shared.targets import Limits, Question, Target
from tests.feedback.making import MS, S, athlete, cadence_target, measure, strike_target

DOUBTS = ("no_runner", "second_person", "wrong_view", "body_cut_off", "quality_low", "scale_doubt")
EDGES = Edges(View.SIDE, rear=0.2, front=0.8)
OLDEST_NS = 250 * MS
LOST = describe("picture_lost", seconds=1)
TARGETS: tuple[tuple[Target, ...], ...] = (
    (strike_target(average_steps=1, cue_gap_steps=4, hysteresis=0.0),),
    (strike_target(side=Side.LEFT, average_steps=1, cue_gap_steps=4),),
    (cadence_target(average_steps=1, cue_gap_steps=4), strike_target()),
    (),
)
SECONDS_UP, SECONDS_DOWN, SECONDS_GONE = 1.0, 0.5, 3.0
FORGIVEN_NS = 400 * MS
"""No gap between two frames that a hold may bridge is longer."""


@dataclass(frozen=True)
class Shot:
    """One frame: what is seen of the body, and what the pipeline makes of it."""

    body: Body
    update: Update
    decided_ns: int


@dataclass
class Tally:
    """What happened in all sequences, to show that the rules were put to the test."""

    events: int = 0
    cues: int = 0
    beats: int = 0
    warnings: int = 0
    held: int = 0
    """Frames of a running session in which nothing could be cued for a doubt."""
    stops: Counter[str] = field(default_factory=Counter)
    unstopped: int = 0


class Maker:
    """Makes one sequence: mostly a good run, with something going wrong every now and then."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.now_ns = self.captured_ns = 10 * S
        self.step = 0
        # A frame a step lets a short sequence last long; the beat needs frames that come quicker.
        self.apart_ms = rng.choice([(375, 375, 375, 33, 100), (33, 100, 150)])

    def sequence(self) -> Iterator[Shot | Facts | Command]:
        """Frames, facts and commands in the order in which the work thread would see them."""
        rng = self.rng
        if rng.random() < 0.9:
            yield Confirm()
            yield Start()
        for _ in range(rng.randint(3, 9)):
            kind = rng.random()
            if kind < 0.12:
                yield from self._commands()
            elif kind < 0.22:
                yield self._tick()
            else:
                yield from self._stretch()

    def _stretch(self) -> Iterator[Shot | Facts]:
        """Some frames of one kind, with a tick after most of them."""
        rng = self.rng
        kind = rng.choices(
            ["good", "hand", "down", "gone", "back", "moved", "doubt", "lost", "wild"],
            [50, 6, 5, 5, 5, 5, 10, 6, 8],
        )[0]
        for _ in range(
            rng.randint(1, 14) if kind in ("good", "back", "gone") else rng.randint(1, 6)
        ):
            if kind == "lost" and rng.random() < 0.5:
                yield self._tick(CaptureState.LOST)
            yield self._shot(kind)
            if rng.random() < 0.2:
                yield self._tick()

    def _shot(self, kind: str) -> Shot:
        rng = self.rng
        wild = kind == "wild"
        self.captured_ns += rng.choice(self.apart_ms) * MS
        if wild:
            self.captured_ns += rng.choice([0, 0, 900, 5000, -375]) * MS
        late = rng.choice([10, 20, 250, 251, 900, -1]) if wild else rng.choice([10, 20, 60])
        self.now_ns = max(self.now_ns, self.captured_ns + late * MS)
        gone = kind == "gone"
        body = Body(
            captured_ns=self.captured_ns,
            present=not gone,
            hand_up=kind == "hand",
            hips_up=None if gone else 0.4 if kind == "down" else rng.uniform(0.8, 1.0),
            place=None if gone else 0.25 if kind == "back" else rng.uniform(0.5, 0.55),
            camera_moved=kind == "moved",
            camera_elsewhere=kind == "moved",
        )
        doubts: tuple[str, ...] = ("no_runner",) if gone else ()
        if kind == "doubt":
            doubts = tuple(rng.sample(DOUBTS, rng.randint(1, 2)))
        update = Update(
            captured_ns=self.captured_ns,
            index=0,
            events=(),
            measures=() if gone else self._measures(wild),
            doubts=doubts,
            quality=0.9,
        )
        return Shot(body, update, self.now_ns)

    def _measures(self, wild: bool) -> tuple[Measure, ...]:
        rng = self.rng
        self.step = max(0, self.step + (rng.choice([0, 1, 2, 9, -3]) if wild else 1))
        at_ns = self.captured_ns - (rng.choice([0, 80, 300, -50]) * MS if wild else 80 * MS)
        level = (
            rng.choice([math.nan, math.inf, 99.0, 20.0]) if wild else rng.choice([20.0, 20.0, 5.0])
        )
        strike = measure(
            self.step,
            level,
            side=rng.choice(list(Side)),
            at_ns=at_ns,
            captured_ns=at_ns if wild else self.captured_ns,
            quality=rng.choice([0.9, 0.49, math.nan]) if wild else 0.9,
        )
        spm = 130.0 + 3 * level
        return strike, replace(
            strike, name="cadence", side=None, unit="steps/min", value=spm, steps=8
        )

    def _tick(self, capture: CaptureState = CaptureState.RUNNING) -> Facts:
        rng = self.rng
        self.now_ns += 100 * MS
        if rng.random() < 0.03:
            capture = rng.choice([CaptureState.ENDED, CaptureState.FAILED, CaptureState.OPENING])
        return Facts(
            capture=capture,
            problems=(LOST,) if capture is CaptureState.LOST else (),
            screen_gone="runner" if rng.random() < 0.02 else "",
            frames_per_s=30.0,
            sound_on=rng.random() < 0.9,
        )

    def _commands(self) -> Iterator[Command]:
        rng = self.rng
        by = rng.choice(list(By))
        commands: list[Command] = [
            Confirm(by=by, source="test"),
            Start(by=by),
            Pause(by=by, source="test"),
            GoOn(by=by, source="test"),
            GoOn(by=By.SCREEN, source="test"),
            Rated(what=Question.PAIN, value=rng.randint(0, 10), source="test"),
            Rated(what=Question.EFFORT, value=rng.randint(0, 10), source="test"),
            StopAsked(reason=rng.choice(list(StopReason)), source="test"),
        ]
        yield rng.choice(commands)


class Referee:
    """Feeds one sequence to a session and checks every answer."""

    def __init__(self, rng: random.Random, tally: Tally) -> None:
        self.targets = rng.choice(TARGETS)
        self.limits = Limits(pain_stop_over=rng.choice([5, 5, 2]))
        self.time_limit_s = rng.choice([None, None, 8.0])
        runner = replace(athlete(*self.targets), limits=self.limits)
        self.session = Session(
            runner, View.SIDE, time_limit_s=self.time_limit_s, cautions=True, edges=EDGES
        )
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
            self._check(out, self._stop_of_facts(item), cue_may_come=False)
        else:
            out = self.session.on_command(item, self.now_ns)
            self._check(out, self._stop_of(item), cue_may_come=False)
            self._move(item)
        assert self.session.state is self.state, (item, self.session.state, self.state)
        snapshot = self.session.snapshot(self.now_ns)
        if snapshot.focus is not None and snapshot.focus.value is not None:
            assert snapshot.state is SessionState.RUNNING
            assert not self._doubted()

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
        self._check(out, StopReason.TIME if self._time_is_up() else None, cue_may_come=True)
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
            assert out.beat_spm == self.targets[0].beat_spm
        self.tally.warnings += out.warning is not None

    def _check_cue(self, cue: Cue, shot: Shot) -> None:
        self.tally.cues += 1
        assert self.state is SessionState.RUNNING
        assert not self._doubted(), shot
        assert 0 <= self.now_ns - cue.captured_ns <= OLDEST_NS
        target = self.targets[0]
        behind = [
            m
            for m in shot.update.measures
            if m.name == cue.measure == target.measure and m.step_number == cue.step_number
        ]
        assert any(
            m.quality >= CATALOGUE[m.name].quality_floor and math.isfinite(m.value) for m in behind
        )
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
        return StopReason.TIME if self._time_is_up() else None

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
        going_ns = 0 if self.since_ns is None else self.now_ns - self.since_ns
        return self.time_limit_s is not None and self.ran_ns + going_ns >= self.time_limit_s * S


def _is_back(body: Body) -> bool:
    return body.place is not None and EDGES.left_behind(body.place) < 0.3


def run(count: int, seed: int) -> Tally:
    """Check so many sequences; AssertionError, with the sequence's number, when one fails."""
    tally = Tally()
    for number in range(count):
        rng = random.Random(f"{seed}-{number}")
        referee = Referee(rng, tally)
        try:
            for item in Maker(rng).sequence():
                referee.feed(item)
        except Exception as error:
            raise AssertionError(f"sequence {number} of seed {seed}: {error!r}") from error
        tally.unstopped += referee.state is not SessionState.STOPPED
        assert isinstance(referee.session.summary(referee.now_ns).cues, dict)
    return tally


def main() -> None:
    """Check as many as asked for, and print what happened."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    began = time.perf_counter()
    tally = run(options.count, options.seed)
    print(f"{options.count} sequences in {time.perf_counter() - began:.0f} s: {tally}")


if __name__ == "__main__":
    main()
