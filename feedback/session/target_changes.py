"""What clinicians ask for in mid-session: targets moved by hand, blocks, notes (pure)."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import msgspec

from feedback.journal.entries import Entry, NoteEntry, TargetEntry
from feedback.safety.rules import aim_of, allowed_aims, within_a_step
from feedback.session.targets import SessionTargets
from feedback.texts.runner import answer as answer_text
from feedback.training.goals import BEAT_SPM
from shared.catalogue import CADENCE, CATALOGUE
from shared.changes import Adjust, Answered, ChangeNote, MoveBlock, Note, Remark, TargetState, Undo
from shared.targets import Limits, Target
from shared.units import NS_PER_S

Asked = Adjust | Undo | MoveBlock | Note
STEP_COUNTS_NS: Final = 60 * NS_PER_S
"""Changes within so long count as one when the size of a step is limited (our choice: a runner
needs about a minute to settle at a new cadence; common practice, no source)."""
SHOWN: Final = 8
"""Changes and notes that a snapshot tells of."""
_HAIR: Final = 1e-6


@dataclass
class _Standing:
    """What is known of one target beside the target itself."""

    first: Target
    revision: int = 1
    undo: list[Target] = field(default_factory=list)
    """Targets that a clinician has replaced, oldest first."""
    left: deque[tuple[int, Target]] = field(default_factory=deque)
    """Targets that held until then, for the last minute."""


class TargetChanges:
    """Takes what clinicians ask for, holds it to the limits, and answers.

    ``own_spm`` is the runner's own cadence, None while it is not known: then a cadence target
    stays within one step of what it was at first.
    """

    def __init__(self, guide: SessionTargets, limits: Limits, own_spm: float | None) -> None:
        self._guide = guide
        self._limits = limits
        self._own_spm = own_spm
        self._standings = [_Standing(lane.target) for lane in guide.lanes]
        self._changes: deque[ChangeNote] = deque(maxlen=SHOWN)
        self._remarks: deque[Remark] = deque(maxlen=SHOWN)

    @property
    def changes(self) -> tuple[ChangeNote, ...]:
        """The newest few, newest last."""
        return tuple(self._changes)

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """The newest few, newest last."""
        return tuple(self._remarks)

    def take(
        self, asked: Asked, who: str, next_step: int, now_ns: int
    ) -> tuple[Answered, tuple[Entry, ...]]:
        """Do what is asked, or say why not; what is done goes into the record.

        ``next_step`` is the number of the first step that a change can hold for.
        """
        match asked:
            case Adjust() | Undo():
                return self._change(asked, who, next_step, now_ns)
            case MoveBlock(now=at, to=to):
                return self._move_block(asked.id, at, to, who)
            case Note(text=""):
                return self._no(asked.id, "answer_note_empty"), ()
            case Note(text=text):
                self._remarks.append(Remark(at_ns=now_ns, who=who, text=text))
                return Answered(id=asked.id, done=True), (
                    NoteEntry(at_ns=now_ns, text=text, source=who),
                )

    def moved_by_drill(self, entries: Iterable[Entry], next_step: int) -> tuple[Entry, ...]:
        """Count the changes that the drill itself has made, with their revisions put in."""
        return tuple(
            self._noted(msgspec.structs.replace(entry, from_step=next_step))
            if isinstance(entry, TargetEntry)
            else entry
            for entry in entries
        )

    def targets(self, now_ns: int) -> tuple[TargetState, ...]:
        """Every target as it holds now."""
        return tuple(self._state(number, now_ns) for number in range(len(self._standings)))

    # inside

    def _change(
        self, asked: Adjust | Undo, who: str, next_step: int, now_ns: int
    ) -> tuple[Answered, tuple[Entry, ...]]:
        number = asked.number
        if number >= len(self._standings):
            return self._no(asked.id, "answer_no_target"), ()
        standing, lane = self._standings[number], self._guide.lanes[number]
        before = lane.target
        if asked.revision != standing.revision:
            return self._no(asked.id, "answer_changed_meanwhile", number, now_ns), ()
        if isinstance(asked, Undo):
            if not standing.undo:
                return self._no(asked.id, "answer_nothing_to_undo", number, now_ns), ()
            after = standing.undo[-1]
            recent = (before, *self._recent(standing, now_ns))
            if not within_a_step(after, recent, self._limits, self._own_spm):
                return self._out_of_range(asked.id, number, now_ns), ()
            standing.undo.pop()
        else:
            least, most = self._range(number, now_ns)
            if not least - _HAIR <= asked.aim <= most + _HAIR:
                return self._out_of_range(asked.id, number, now_ns), ()
            standing.undo.append(before)
            after = _moved(before, asked.aim)
        lane.aim_at(after)
        self._guide.hold(number, on=bool(standing.undo))
        entry = self._noted(
            TargetEntry(
                at_ns=now_ns,
                target=after,
                source=who,
                old=before,
                from_step=next_step,
                number=number,
            )
        )
        answer = Answered(
            id=asked.id, done=True, target=self._state(number, now_ns), from_step=next_step
        )
        return answer, (entry,)

    def _range(self, number: int, now_ns: int) -> tuple[float, float]:
        """Least and most that the aim may become; never without the aim as it is."""
        standing, target = self._standings[number], self._guide.lanes[number].target
        recent = self._recent(standing, now_ns)
        if target.measure == CADENCE and self._own_spm is None:
            recent.append(standing.first)
        least, most = allowed_aims(target, self._limits, self._own_spm, recent)
        aim = aim_of(target)
        if target.beat_spm is not None:
            least, most = max(least, BEAT_SPM[0]), min(most, BEAT_SPM[1])
        spec = CATALOGUE[target.measure]
        if target.unit == spec.units[0]:
            low, high = spec.plausible
            edges = [edge for edge in (target.low, target.high) if edge is not None]
            least = max([least, *(aim + low - edge for edge in edges)])
            most = min([most, *(aim + high - edge for edge in edges)])
        return min(aim, _tenth(least, up=True)), max(aim, _tenth(most, up=False))

    def _recent(self, standing: _Standing, now_ns: int) -> list[Target]:
        """The targets that held within the last minute, but for the one that holds."""
        while standing.left and now_ns - standing.left[0][0] > STEP_COUNTS_NS:
            standing.left.popleft()
        return [one for _, one in standing.left]

    def _out_of_range(self, asked_id: int, number: int, now_ns: int) -> Answered:
        least, most = self._range(number, now_ns)
        unit = self._guide.lanes[number].target.unit
        places = {"least": f"{least:g}", "most": f"{most:g}", "unit": unit}
        return self._no(asked_id, "answer_out_of_range", number, now_ns, **places)

    def _move_block(
        self, asked_id: int, at: int, to: int, who: str
    ) -> tuple[Answered, tuple[Entry, ...]]:
        block = self._guide.block
        if block is None or to > block.count:
            return self._no(asked_id, "answer_no_block"), ()
        if block.number != at:
            return self._no(asked_id, "answer_block_meanwhile"), ()
        if not self._guide.move_to(to, who):
            return self._no(asked_id, "answer_no_block"), ()
        return Answered(id=asked_id, done=True), ()  # the block's own entry says who

    def _noted(self, entry: TargetEntry) -> TargetEntry:
        """Put a change down, whoever made it."""
        standing = self._standings[entry.number]
        standing.revision += 1
        old = entry.target if entry.old is None else entry.old
        standing.left.append((entry.at_ns, old))
        target = entry.target
        self._changes.append(
            ChangeNote(
                at_ns=entry.at_ns,
                who=entry.source,
                number=entry.number,
                revision=standing.revision,
                measure=target.measure,
                side=target.side,
                unit=target.unit,
                old_low=old.low,
                old_high=old.high,
                low=target.low,
                high=target.high,
                beat_spm=target.beat_spm,
                from_step=entry.from_step,
            )
        )
        return msgspec.structs.replace(entry, revision=standing.revision)

    def _state(self, number: int, now_ns: int) -> TargetState:
        standing, lane = self._standings[number], self._guide.lanes[number]
        target = lane.target
        least, most = self._range(number, now_ns)
        value, state = lane.verdict
        return TargetState(
            number=number,
            revision=standing.revision,
            measure=target.measure,
            side=target.side,
            unit=target.unit,
            low=target.low,
            high=target.high,
            beat_spm=target.beat_spm,
            aim=aim_of(target),
            aim_least=least,
            aim_most=most,
            by_hand=lane.by_hand,
            can_undo=bool(standing.undo),
            in_focus=lane is self._guide.in_focus,
            value=value,
            state=state,
        )

    def _no(
        self, asked_id: int, key: str, number: int | None = None, now_ns: int = 0, **values: str
    ) -> Answered:
        target = None if number is None else self._state(number, now_ns)
        return Answered(id=asked_id, done=False, why=answer_text(key, **values), target=target)


def _moved(target: Target, aim: float) -> Target:
    """The target with its aim there; the band moves along."""
    by = aim - aim_of(target)
    return msgspec.structs.replace(
        target,
        low=_plus(target.low, by),
        high=_plus(target.high, by),
        beat_spm=_plus(target.beat_spm, by),
    )


def _plus(edge: float | None, by: float) -> float | None:
    return None if edge is None else round(edge + by, 3)


def _tenth(value: float, *, up: bool) -> float:
    """Rounded to a tenth, so that a range never grows by it."""
    whole = -((-value * 10 + _HAIR) // 1) if up else (value * 10 + _HAIR) // 1
    return whole / 10
