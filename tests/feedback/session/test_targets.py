"""A session that follows a drill: one target cued at a time, nothing cued or shown outside."""

from __future__ import annotations

from itertools import pairwise

import pytest

from feedback.journal.entries import BlockEntry, CueEntry, Entry, TargetEntry
from feedback.session.interface import Facts, Rated, Start
from feedback.session.session import Session
from feedback.training.drill import DrillRun, lay_out
from feedback.training.goals import as_athlete
from shared.flow import CueKind, Update
from shared.messages import SessionState, StopReason
from shared.targets import BlockKind, Drill, PlanSession, Question, SessionKind
from tests.feedback.making import MS, S
from tests.feedback.training.making import (
    NO_LIMITS,
    block,
    cadence_aim,
    drill,
    prescription,
    steps,
    strike_aim,
)

TWO = drill(
    cadence_aim(),
    strike_aim(),
    blocks=(
        block("warm_up", 0.2),
        block("cued", 0.5, focus="steps", ask=(Question.EFFORT,)),
        block("cued", 0.5, focus="landing"),
        block("uncued", 0.5),
    ),
)


class Run:
    """A session fed with steps at the runner's own cadence, which is under every target."""

    def __init__(self, a_drill: Drill, plan_session: PlanSession | None = None) -> None:
        made = prescription(a_drill)
        self.course = DrillRun(lay_out(a_drill, 10.1, plan_session), made.goals, a_drill, NO_LIMITS)
        self.session = Session(as_athlete(made), made.view, course=self.course)
        self.entries: list[Entry] = []
        self.beats: list[tuple[int, float | None]] = []
        self.session.on_tick(0, Facts(sound_on=True))
        self._keep(self.session.on_command(Start(), 0).journal)

    def _keep(self, entries: tuple[Entry, ...]) -> None:
        self.entries += entries

    def feed(self, updates: list[Update]) -> None:
        for update in updates:
            now_ns = update.captured_ns + 20 * MS
            outputs = self.session.on_update(update, now_ns)
            self._keep(outputs.journal)
            self.beats.append((now_ns, outputs.beat_spm))
            self._keep(self.session.on_tick(now_ns, Facts(sound_on=True)).journal)
            if self.session.state is SessionState.STOPPED:
                return

    def of(self, kind: type) -> list:  # type: ignore[type-arg]
        return [entry for entry in self.entries if isinstance(entry, kind)]


def test_one_target_is_cued_at_a_time_and_none_outside_its_blocks() -> None:
    run = Run(TWO)
    run.feed(steps(400))
    blocks = run.of(BlockEntry)
    assert [(b.number, b.kind.value, b.cued and b.cued.measure) for b in blocks] == [
        (1, "warm_up", None),
        (2, "cued", "cadence"),
        (3, "cued", "strike_ahead"),
        (4, "uncued", None),
    ]
    ends = [b.at_ns for b in blocks[1:]] + [run.beats[-1][0]]
    for entry in run.of(CueEntry):
        began = [b for b in blocks if b.at_ns <= entry.cue.decided_ns][-1]
        assert began.cued is not None
        assert entry.cue.measure == began.cued.measure
    measures = [entry.cue.measure for entry in run.of(CueEntry)]
    assert {"cadence", "strike_ahead"} == set(measures)
    for at_ns, beat in run.beats:
        if beat is not None:
            assert blocks[1].at_ns <= at_ns <= ends[1]
    assert any(beat for _, beat in run.beats)


def test_the_gap_between_cues_holds_across_targets() -> None:
    run = Run(TWO)
    run.feed(steps(400))
    cued = [entry.cue.step_number for entry in run.of(CueEntry)]
    assert len(cued) >= 6
    assert all(b - a >= 8 for a, b in pairwise(cued))


def test_nothing_of_the_target_is_shown_while_nothing_is_cued() -> None:
    run = Run(TWO)
    seen: dict[BlockKind, set[str | None]] = {}
    for update in steps(250):
        run.feed([update])
        snapshot = run.session.snapshot(update.captured_ns + 20 * MS)
        if snapshot.state is SessionState.STOPPED:
            break
        assert snapshot.block is not None
        focus = snapshot.focus
        shown = seen.setdefault(snapshot.block.kind, set())
        shown.add(None if focus is None else focus.measure)
    assert seen[BlockKind.WARM_UP] == seen[BlockKind.UNCUED] == {None}
    assert seen[BlockKind.CUED] == {"cadence", "strike_ahead"}


def test_it_ends_with_the_drill() -> None:
    run = Run(TWO)
    run.feed(steps(400))
    assert run.session.state is SessionState.STOPPED
    assert run.session.stop_reason is StopReason.FINISHED
    assert run.session.snapshot(200 * S).elapsed_s == pytest.approx(102.0, abs=0.5)


def test_the_ramp_moves_the_target_and_is_written_down() -> None:
    run = Run(drill(blocks=(block("cued", 3.0),), ramp_every_min=1.0))
    run.feed(steps(300))
    (moved,) = run.of(TargetEntry)
    assert moved.target.beat_spm == 168.0
    assert moved.at_ns == pytest.approx(60 * S, abs=S)
    beats = {beat for _, beat in run.beats}
    assert beats == {None, 164.0, 168.0}


def test_what_a_block_asks_is_asked_and_pain_reaches_the_ramp() -> None:
    run = Run(TWO)
    for update in steps(160):
        run.feed([update])
        now_ns = update.captured_ns + 20 * MS
        if run.session.snapshot(now_ns).asked is Question.EFFORT:
            break
    else:
        pytest.fail("effort was never asked")
    assert run.of(BlockEntry)[-1].number == 3
    run.session.on_command(Rated(what=Question.EFFORT, value=4, source="a test"), now_ns)
    assert run.session.snapshot(now_ns).asked is None
    run.session.on_command(Rated(what=Question.PAIN, value=4, source="a test"), now_ns)
    held = run.course.levels
    run.course.advance(1000 * S, 0)
    assert run.course.levels == held


def test_pain_over_its_limit_ends_the_drill() -> None:
    run = Run(TWO)
    run.feed(steps(60))
    run.session.on_command(Rated(what=Question.PAIN, value=6, source="a test"), 60 * S)
    assert run.session.stop_reason is StopReason.PAIN


def test_a_reminder_comes_once_and_only_when_the_runner_is_seen_well() -> None:
    session = PlanSession(parts_min=(0.0, 2.0), kind=SessionKind.REMINDER)
    run = Run(drill(), session)
    run.feed(steps(300, doubted=tuple(range(150, 180))))
    (cue,) = [entry.cue for entry in run.of(CueEntry)]
    assert cue.kind is CueKind.REMINDER
    assert cue.words == "cue_cadence_below"
    assert cue.sound == "say_cue_cadence_below"
    assert cue.step_number >= 180  # the block began within the doubt
    lines = {b.kind: run for b in run.of(BlockEntry)}
    assert set(lines) == {BlockKind.WARM_UP, BlockKind.UNCUED}


def test_a_reminder_comes_even_where_nothing_goes_before_it() -> None:
    blocks = (block("cued", 2.0), block("cool_down", 0.5))
    session = PlanSession(parts_min=(0.0, 1.0), kind=SessionKind.REMINDER)
    run = Run(drill(blocks=blocks), session)
    run.feed(steps(60))
    assert [entry.cue.kind for entry in run.of(CueEntry)] == [CueKind.REMINDER]


def test_a_retention_check_gives_no_cue_at_all() -> None:
    session = PlanSession(parts_min=(0.0, 2.0), kind=SessionKind.RETENTION)
    run = Run(drill(), session)
    run.feed(steps(600))
    assert run.of(CueEntry) == []
    assert {beat for _, beat in run.beats} == {None}
    (lane,) = run.session.summary(0).targets
    assert lane.judged > 100  # what was kept is measured all the same
