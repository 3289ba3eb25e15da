"""The targets of a session: which are judged, which is cued, what a course changes (pure)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec

from feedback.cueing.cues import reminder_cue
from feedback.cueing.target_tracker import TargetTracker
from feedback.journal.entries import BlockEntry, Entry, TargetEntry
from feedback.training.course import Course, Due
from shared.flow import BandState, Cue, Update
from shared.messages import BlockNote
from shared.targets import Question, Target
from shared.units import NS_PER_S

REMINDER_SHOWN_NS = 15 * NS_PER_S


@dataclass(frozen=True, slots=True)
class Turn:
    """What following the course brought at one moment."""

    journal: tuple[Entry, ...] = ()
    question: Question | None = None
    """To be asked now."""
    over: bool = False


class SessionTargets:
    """Holds a lane for each target. Without a course the first target has the focus throughout."""

    def __init__(self, targets: Sequence[Target], course: Course | None = None) -> None:
        self._course = course
        if course is not None:
            targets = course.advance(0, 0).targets
        self.lanes = tuple(TargetTracker(target) for target in targets)
        self._focus: int | None = 0 if self.lanes and course is None else None
        self.block: BlockNote | None = None
        self._remind: tuple[int, BandState] | None = None
        self._reminded: tuple[str, int] | None = None
        self._moved_on_by = ""

    @property
    def in_focus(self) -> TargetTracker | None:
        """The lane that is cued and shown; None while nothing is."""
        return None if self._focus is None else self.lanes[self._focus]

    def follow(self, run_ns: int, steps: int, now_ns: int) -> Turn:
        """Do what the course says after so much running time and so many steps."""
        if self._course is None:
            return Turn()
        due = self._course.advance(run_ns, steps)
        journal = [*self._move_targets(due, now_ns), *self._move_block(due, now_ns)]
        if due.remind is not None:
            self._remind = due.remind
        if self._reminded is not None and now_ns - self._reminded[1] > REMINDER_SHOWN_NS:
            self._reminded = None
        self.block = due.block
        if self._reminded is not None:
            self.block = msgspec.structs.replace(due.block, line=self._reminded[0])
        return Turn(journal=tuple(journal), question=due.question, over=due.over)

    def hold(self, number: int, *, on: bool) -> None:
        """Whether a target stays where a clinician has set it: the course then leaves it alone."""
        self.lanes[number].by_hand = on
        if self._course is not None:
            self._course.hold(number, on=on)

    def left_ns(self, run_ns: int, steps: int, limit_ns: int | None) -> int | None:
        """Running time that is left, by the course and the limit; None where it is not known."""
        if self._course is None:
            return limit_ns
        left_ns = self._course.left_ns(run_ns, steps)
        return left_ns if left_ns is None or limit_ns is None else min(left_ns, limit_ns)

    def reminder(self, step_number: int, captured_ns: int, now_ns: int) -> Cue | None:
        """The reminder that is due, once; ask for it only while cues are allowed."""
        if self._remind is None:
            return None
        (number, state), self._remind = self._remind, None
        target = self.lanes[number].target
        cue = reminder_cue(target, state, step_number, captured_ns, now_ns)
        if cue.words:
            self._reminded = (cue.words, now_ns)
        return cue

    def move_to(self, number: int, who: str) -> bool:
        """Have the course begin block ``number``, from 1; False where it cannot."""
        if self._course is None or not self._course.move_to(number):
            return False
        self._moved_on_by = who
        return True

    def cued(self, step_number: int) -> None:
        """A cue was given: no lane gives another within its gap."""
        for lane in self.lanes:
            lane.planner.keep_away(step_number)

    def on_update(self, update: Update) -> None:
        """Show the course what one frame brought to light."""
        if self._course is not None:
            self._course.on_update(update)

    def on_answer(self, question: Question, value: int) -> None:
        """Tell the course what was answered."""
        if self._course is not None:
            self._course.on_answer(question, value)

    def _move_targets(self, due: Due, now_ns: int) -> Iterator[Entry]:
        for number, (lane, target) in enumerate(zip(self.lanes, due.targets, strict=True)):
            old = lane.target
            if old is target or old == target or lane.by_hand:
                continue
            lane.aim_at(target)
            yield TargetEntry(at_ns=now_ns, target=target, source="ramp", number=number, old=old)

    def _move_block(self, due: Due, now_ns: int) -> Iterator[Entry]:
        if due.focus != self._focus:
            if self._focus is not None:
                self.lanes[self._focus].planner.reset()
            self._focus = due.focus
        if self.block is None or self.block.number != due.block.number:
            target = None if due.focus is None else self.lanes[due.focus].target
            who, self._moved_on_by = self._moved_on_by, ""
            yield BlockEntry(
                at_ns=now_ns,
                number=due.block.number,
                count=due.block.count,
                kind=due.block.kind,
                belt_speed_kmh=due.block.belt_speed_kmh,
                cued=target,
                source=who,
            )
