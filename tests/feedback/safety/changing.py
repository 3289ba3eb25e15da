"""What clinicians ask for in a random sequence, checked by a second book of the targets."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from feedback.journal.entries import NoteEntry, TargetEntry
from feedback.session.interface import Change
from feedback.session.session import Session
from shared.changes import Adjust, Note, Undo
from shared.messages import SessionState
from shared.targets import Target
from tests.feedback.making import S
from tests.feedback.safety.courses import FirstTarget, Plan

STEP = {"cadence": 0.05, "strike_ahead": 0.05 * 70.0}
"""One step: 5 % of the aim for a cadence that is not known; of the 70 cm range of strike_ahead."""


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
    reminders: int = 0
    asked: int = 0
    """Times that a question was open."""
    plans_ended: int = 0
    changed: int = 0
    refused: int = 0


class Bench:
    """Keeps its own account of every target: revision, aims of the last minute, what is undone."""

    def __init__(self, plan: Plan, tally: Tally) -> None:
        self.plan = plan
        self.tally = tally
        self.changes = isinstance(plan, FirstTarget)
        targets = plan.targets if isinstance(plan, FirstTarget) else ()
        self.targets = list(targets)
        self.revisions = [1] * len(targets)
        self.undo: list[list[float]] = [[] for _ in targets]
        self.aims: list[list[tuple[int, float]]] = [[(-S * 10**6, _aim(t))] for t in targets]
        """When each aim began to hold."""

    def may_beat(self, spm: float) -> bool:
        """The plan's beat, as moved by hand."""
        if not self.changes:
            return self.plan.may_beat(spm)
        focus = self.plan.focus()
        return focus is not None and focus.beat_spm is not None and spm == self.aims[0][-1][1]

    def feed(self, change: Change, session: Session, now_ns: int, state: SessionState) -> None:
        """Hand it over; see that what is done may be done, and that nothing else comes of it."""
        asked = change.asked
        out = session.on_command(change, now_ns)
        assert (out.cues, out.warning, out.stop) == ((), None, None)
        assert out.answer is not None
        asker, answer = out.answer
        assert (asker, answer.id) == (change.asker, asked.id)
        if isinstance(asked, Note):
            assert answer.done
            assert [type(entry) for entry in out.journal] == [NoteEntry]
            return
        if not answer.done:
            self.tally.refused += 1
            assert answer.why
            assert out.journal == ()
            return
        assert state is not SessionState.STOPPED
        assert isinstance(asked, Adjust | Undo), "no block could be moved to"
        number = asked.number
        assert asked.revision == self.revisions[number]
        now = self.aims[number][-1][1]
        if isinstance(asked, Undo):
            aim = self.undo[number].pop()
        else:
            aim = asked.aim
            self.undo[number].append(now)
            self._check_step(number, aim, now_ns)
        assert answer.target is not None
        assert abs(answer.target.aim - aim) < 1e-2
        self.aims[number].append((now_ns, answer.target.aim))
        self.revisions[number] += 1
        assert answer.target.revision == self.revisions[number]
        (entry,) = out.journal
        assert isinstance(entry, TargetEntry)
        assert (entry.source, entry.at_ns) == (change.source, now_ns)
        self.tally.changed += 1

    def _check_step(self, number: int, aim: float, now_ns: int) -> None:
        """No further than one step from any aim that held within the last minute."""
        aims = self.aims[number]
        cadence = self.targets[number].measure == "cadence"
        step = STEP[self.targets[number].measure] * (aims[-1][1] if cadence else 1.0)
        ends = [begun for begun, _ in aims[1:]] + [now_ns]
        held = [a for (_, a), end in zip(aims, ends, strict=True) if now_ns - end <= 60 * S]
        if cadence:
            held.append(aims[0][1])
        assert all(abs(aim - one) <= step + 0.01 for one in held), (aim, held)


def _aim(target: Target) -> float:
    if target.beat_spm is not None:
        return target.beat_spm
    edges = [edge for edge in (target.low, target.high) if edge is not None]
    return sum(edges) / len(edges)
