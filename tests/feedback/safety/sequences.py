"""Random sequences of frames, facts and commands, as a work thread would see them."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass

from msgspec.structs import replace

from feedback.safety.rules import By
from feedback.session.interface import (
    CaptureState,
    Change,
    Command,
    Confirm,
    Facts,
    GoOn,
    Pause,
    Rated,
    Start,
    StopAsked,
)
from shared.changes import Adjust, MoveBlock, Note, Undo
from shared.flow import Body, EventKind, GaitEvent, Measure, Side, Update
from shared.messages import StopReason
from shared.problems import describe
from shared.targets import Question
from tests.feedback.making import MS, S, measure

DOUBTS = ("no_runner", "second_person", "wrong_view", "body_cut_off", "quality_low", "scale_doubt")
LOST = describe("picture_lost", seconds=1)


@dataclass(frozen=True)
class Shot:
    """One frame: what is seen of the body, and what the pipeline makes of it."""

    body: Body
    update: Update
    decided_ns: int


class Maker:
    """Makes one sequence: mostly a good run, with something going wrong every now and then."""

    def __init__(
        self, rng: random.Random, stretches: tuple[int, int] = (3, 9), *, changes: bool = False
    ) -> None:
        self.rng = rng
        self.changes = changes
        """Whether clinicians move targets."""
        self.stretches = stretches
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
        for _ in range(rng.randint(*self.stretches)):
            kind = rng.random()
            if rng.random() < 0.3:
                yield self._change()
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
            measures=() if gone else self._measures(wild),
            events=() if gone else (self._contact(),),
            doubts=doubts,
            quality=0.9,
        )
        return Shot(body, update, self.now_ns)

    def _contact(self) -> GaitEvent:
        return GaitEvent(
            kind=EventKind.CONTACT,
            side=Side.LEFT if self.step % 2 else Side.RIGHT,
            at_ns=self.captured_ns - 80 * MS,
            captured_ns=self.captured_ns,
            quality=0.9,
            uncertainty_ms=10.0,
        )

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
        while rng.random() < 0.6:
            yield self._change()

    def _change(self) -> Change:
        asker = self.rng.randint(1, 9)
        return Change(asked=self._asked(), source="console Desk 1", asker=asker)

    def _asked(self) -> Adjust | Undo | MoveBlock | Note:
        """Something a clinician asks for, often against an old revision or out of range."""
        rng = self.rng
        kind = rng.choice(["adjust", "adjust", "undo"]) if self.changes else "note"
        number, revision = rng.choice([0, 0, 0, 1, 7]), rng.choice([1, 1, 1, 2, 2, 3, 9])
        if kind == "adjust":
            near = [rng.uniform(7.0, 13.0), rng.uniform(156.0, 176.0)]
            aim = rng.choice([*near, *near, rng.uniform(-50.0, 300.0), 1e4])
            return Adjust(id=rng.randint(0, 99), number=number, revision=revision, aim=aim)
        if kind == "undo":
            return Undo(id=rng.randint(0, 99), number=number, revision=revision)
        if rng.random() < 0.2:  # there is none like it, so that a drill's plan still holds
            return MoveBlock(id=rng.randint(0, 99), now=rng.randint(1, 9), to=999)
        return Note(id=rng.randint(0, 99), text="a note")
