"""What clinicians change in mid-session: revisions, limits, undo, blocks, notes, the record."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.journal.entries import BlockEntry, Entry, NoteEntry, TargetEntry, VolumeEntry
from feedback.safety.rules import too_much
from feedback.session.interface import Change, Facts, Outputs, Start, StopAsked
from feedback.session.session import Session
from feedback.training.course import Course
from feedback.training.drill import DrillRun, lay_out
from feedback.training.goals import as_athlete
from shared.changes import Adjust, Answered, MoveBlock, Note, SetVolume, TargetState, Undo
from shared.flow import View
from shared.messages import StopReason
from shared.targets import Athlete, BlockKind, Limits, Question, Target
from tests.feedback.making import (
    MS,
    STEP_NS,
    S,
    athlete,
    cadence,
    cadence_target,
    measure,
    strike_target,
    update,
)
from tests.feedback.training.making import NO_LIMITS, block, cadence_aim, drill, prescription

WHO = "console Desk 1"
OWN_SPM = 160.0


class Run:
    """A session, with what goes into its record."""

    def __init__(self, *targets: Target, course: Course | None = None, of: Athlete | None = None):
        made = athlete(*targets) if of is None else of
        if of is None:
            made = msgspec.structs.replace(made, baseline_cadence_spm=OWN_SPM)
        self.session = Session(made, View.SIDE, course=course)
        self.now_ns = 0
        self.entries: list[Entry] = []
        self.session.on_tick(0, Facts(sound_on=True))
        self.session.on_command(Start(), 0)

    def ask(self, asked: Adjust | Undo | MoveBlock | Note, source: str = WHO) -> Answered:
        outputs = self.session.on_command(Change(asked=asked, source=source, asker=7), self.now_ns)
        self.entries += outputs.journal
        assert outputs.answer is not None
        asker, answer = outputs.answer
        assert (asker, answer.id) == (7, asked.id)
        return answer

    def adjust(self, aim: float, revision: int | None = None, number: int = 0) -> Answered:
        now = self.target(number).revision if revision is None else revision
        return self.ask(Adjust(id=3, number=number, revision=now, aim=aim))

    def undo(self) -> Answered:
        return self.ask(Undo(id=4, number=0, revision=self.target().revision))

    def target(self, number: int = 0) -> TargetState:
        return self.session.snapshot(self.now_ns).targets[number]

    def step(self, number: int, **values: float) -> Outputs:
        captured_ns = number * STEP_NS + 80 * MS
        self.now_ns = captured_ns + 20 * MS
        measures = []
        if "spm" in values:
            measures.append(cadence(number, values["spm"]))
        if "strike" in values:
            measures.append(measure(number, values["strike"]))
        outputs = self.session.on_update(update(captured_ns, *measures), self.now_ns)
        self.entries += outputs.journal
        return outputs

    def of(self, kind: type) -> list:  # type: ignore[type-arg]
        return [entry for entry in self.entries if isinstance(entry, kind)]


def test_a_change_moves_the_band_and_the_beat_and_says_from_which_step() -> None:
    run = Run(cadence_target(beat_spm=168.0, low=164.0, high=172.0))
    for number in range(1, 12):
        run.step(number, spm=160.0)
    answer = run.adjust(172.0)
    assert answer.done
    assert answer.from_step == 12
    assert answer.target is not None
    found = answer.target
    assert (found.beat_spm, found.low, found.high, found.revision) == (172.0, 168.0, 176.0, 2)
    assert found.by_hand
    assert found.can_undo
    assert run.step(12, spm=160.0).beat_spm == 172.0, "in force by the next step"


def test_the_record_says_who_when_old_and_new() -> None:
    run = Run(cadence_target(beat_spm=168.0, low=164.0, high=172.0))
    run.step(5, spm=160.0)
    run.adjust(170.0)
    (entry,) = run.of(TargetEntry)
    assert (entry.source, entry.at_ns, entry.from_step) == (WHO, run.now_ns, 6)
    assert (entry.old.beat_spm, entry.target.beat_spm, entry.revision) == (168.0, 170.0, 2)
    (note,) = run.session.snapshot(run.now_ns).changes
    assert (note.who, note.old_low, note.low, note.from_step) == (WHO, 164.0, 166.0, 6)


def test_what_was_made_against_an_old_revision_is_refused_with_the_target_as_it_is() -> None:
    run = Run(cadence_target(beat_spm=168.0, low=164.0, high=172.0))
    seen = run.target().revision
    assert run.adjust(170.0, seen).done
    second = run.adjust(166.0, seen)
    assert not second.done
    assert second.target is not None
    assert second.target.aim == 170.0
    assert len(run.of(TargetEntry)) == 1
    assert run.adjust(168.0, second.target.revision).done


@pytest.mark.parametrize("aim", [176.1, 159.9, 500.0, -3.0])
def test_what_is_out_of_range_is_refused_with_the_range(aim: float) -> None:
    """The own cadence is 160: +10 % are 176, one step of 5 % is 8."""
    run = Run(cadence_target(beat_spm=168.0, low=164.0, high=172.0))
    answer = run.adjust(aim)
    assert not answer.done
    assert "160 to 176 steps/min" in answer.why
    assert run.target().aim == 168.0


def test_several_changes_in_a_row_are_no_way_round_the_step() -> None:
    run = Run(strike_target(high=12.0))
    assert run.adjust(9.0).done
    assert not run.adjust(6.0).done, "3.5 cm are one step"
    assert run.adjust(8.5).done
    run.now_ns += 61 * S
    assert run.adjust(5.0).done


def test_without_an_own_cadence_the_target_stays_near_what_it_was_at_first() -> None:
    run = Run(of=athlete(cadence_target(beat_spm=160.0, low=156.0, high=164.0)))
    assert run.adjust(168.0).done
    run.now_ns += 120 * S
    assert not run.adjust(169.0).done
    assert run.adjust(160.0).done


def test_undo_goes_back_change_by_change() -> None:
    run = Run(strike_target(high=12.0))
    run.adjust(11.0)
    run.adjust(10.0)
    assert [run.undo().done for _ in range(2)] == [True, True]
    assert run.target().high == 12.0
    assert not run.target().by_hand
    assert not run.undo().done
    assert [entry.target.high for entry in run.of(TargetEntry)] == [11.0, 10.0, 11.0, 12.0]


def test_an_unknown_target_is_refused() -> None:
    run = Run(strike_target(high=12.0))
    assert not run.adjust(10.0, revision=1, number=4).done


def test_after_a_stop_nothing_is_changed_but_notes_are_taken() -> None:
    run = Run(strike_target(high=12.0))
    run.session.on_command(StopAsked(reason=StopReason.CONSOLE, source=WHO), 0)
    assert not run.adjust(11.0).done
    assert run.ask(Note(id=9, text="stopped for a lace")).done
    assert run.of(TargetEntry) == []
    (entry,) = run.of(NoteEntry)
    assert (entry.text, entry.source) == ("stopped for a lace", WHO)
    assert run.session.snapshot(0).remarks[0].text == "stopped for a lace"


def test_the_volume_is_set_put_down_and_answered_while_the_session_lasts() -> None:
    run = Run(strike_target(high=12.0))
    change = Change(asked=SetVolume(id=4, percent=40), source=WHO, asker=7)
    outputs = run.session.on_command(change, 11)
    assert outputs.volume_percent == 40
    assert outputs.journal == (VolumeEntry(at_ns=11, percent=40, source=WHO),)
    assert outputs.answer == (7, Answered(id=4, done=True))
    run.session.on_command(StopAsked(reason=StopReason.CONSOLE, source=WHO), 12)
    late = run.session.on_command(change, 13)
    assert late.volume_percent is None
    assert late.answer is not None
    assert not late.answer[1].done


def test_a_change_does_not_cue_by_itself() -> None:
    run = Run(strike_target(high=12.0))
    for number in range(1, 30):
        assert not run.step(number, strike=10.0).cues
    outputs = run.session.on_command(
        Change(asked=Adjust(id=1, number=0, revision=1, aim=9.0), source=WHO, asker=1), run.now_ns
    )
    assert outputs.cues == ()
    assert any(run.step(number, strike=10.0).cues for number in range(30, 40))


# drills


def drilled() -> Run:
    a_drill = drill(
        cadence_aim(),
        blocks=(
            block("warm_up", 0.5),
            block("cued", 2.0, ask=(Question.EFFORT,)),
            block("uncued", 1.0),
        ),
    )
    made = prescription(a_drill)
    course = DrillRun(lay_out(a_drill, 10.1), made.goals, a_drill, NO_LIMITS)
    return Run(of=as_athlete(made), course=course)


def test_a_block_is_left_for_another_and_the_record_says_who() -> None:
    run = drilled()
    run.step(1, spm=160.0)
    assert run.ask(MoveBlock(id=1, now=1, to=2)).done
    run.step(2, spm=160.0)
    block_entry = run.of(BlockEntry)[-1]
    assert (block_entry.number, block_entry.kind, block_entry.source) == (2, BlockKind.CUED, WHO)
    shown = run.session.snapshot(run.now_ns).block
    assert shown is not None
    assert shown.remaining_s == pytest.approx(120.0, abs=1.0)


def test_what_a_block_asks_at_its_end_is_asked_when_it_is_left() -> None:
    run = drilled()
    run.step(1, spm=160.0)
    run.ask(MoveBlock(id=1, now=1, to=2))
    run.step(2, spm=160.0)
    run.ask(MoveBlock(id=2, now=2, to=3))
    run.step(3, spm=160.0)
    assert run.session.snapshot(run.now_ns).asked is Question.EFFORT


@pytest.mark.parametrize(("now", "to"), [(2, 3), (1, 9), (3, 1)])
def test_a_block_that_is_not_on_or_not_there_is_refused(now: int, to: int) -> None:
    run = drilled()
    run.step(1, spm=160.0)
    assert not run.ask(MoveBlock(id=1, now=now, to=to)).done
    run.step(2, spm=160.0)
    assert len(run.of(BlockEntry)) == 1


def test_what_a_clinician_has_set_is_not_moved_by_the_drill() -> None:
    run = drilled()
    run.step(1, spm=160.0)
    run.ask(MoveBlock(id=1, now=1, to=2))
    run.step(2, spm=160.0)
    aim = run.target().aim - 1.0
    assert run.adjust(aim).done
    for number in range(3, 400):
        run.step(number, spm=160.0)
    assert run.target().aim == aim
    assert {entry.source for entry in run.of(TargetEntry)} == {WHO}


def test_a_ramp_that_moves_meanwhile_makes_the_revision_old() -> None:
    a_drill = drill(cadence_aim(), blocks=(block("cued", 5.0),), ramp_every_min=0.5)
    made = prescription(a_drill)
    run = Run(
        of=as_athlete(made),
        course=DrillRun(lay_out(a_drill, 10.1), made.goals, a_drill, NO_LIMITS),
    )
    run.step(1, spm=160.0)
    seen = run.target().revision
    for number in range(2, 120):
        run.step(number, spm=160.0)
    (ramp,) = run.of(TargetEntry)
    assert ramp.source == "ramp"
    assert not run.adjust(run.target().aim, seen).done


def ramped(every_min: float = 2.0, minutes: float = 30.0) -> Run:
    """A drill that goes up to +10 % in steps of 2.5 %, beginning with cues."""
    a_drill = drill(
        cadence_aim(change_percent=10.0, ramp_step_percent=2.5),
        blocks=(block("cued", minutes),),
        ramp_every_min=every_min,
    )
    made = prescription(a_drill)
    course = DrillRun(lay_out(a_drill, 10.1), made.goals, a_drill, NO_LIMITS)
    return Run(of=as_athlete(made), course=course)


def until_s(run: Run, at_s: float) -> None:
    """Run on until then; the session looks at the clock every five seconds."""
    end_ns = round(at_s * S)
    while run.now_ns < end_ns:
        run.now_ns = min(run.now_ns + 5 * S, end_ns)
        run.entries += run.session.on_tick(run.now_ns, Facts(sound_on=True)).journal


def test_undo_brings_back_what_held_however_long_ago_and_the_ramp_goes_on_from_there() -> None:
    run = ramped()
    run.step(1, spm=160.0)
    before = run.target().aim
    assert run.adjust(before + 4.0).done
    until_s(run, 7 * 60.0)
    assert run.target().aim == before + 4.0
    undone_ns = run.now_ns
    assert run.undo().done
    assert run.target().aim == before
    until_s(run, undone_ns / S + 119)
    assert run.target().aim == before, "the ramp's time begins anew"
    until_s(run, undone_ns / S + 125)
    (ramp,) = [entry for entry in run.of(TargetEntry) if entry.source == "ramp"]
    assert run.target().aim == pytest.approx(before + 0.025 * OWN_SPM, abs=0.5), "one step of it"
    assert ramp.at_ns - undone_ns > 119 * S


def test_undo_after_undo_is_no_way_round_the_step() -> None:
    run = Run(cadence_target(beat_spm=176.0, low=172.0, high=180.0))
    for aim in (168.0, 160.0):
        assert run.adjust(aim).done
        run.now_ns += 61 * S
    assert run.undo().done
    answer = run.undo()
    assert not answer.done, "176 would be twice the step within a minute"
    assert "160 to 168" in answer.why
    assert (run.target().aim, run.target().by_hand, run.target().can_undo) == (168.0, True, True)
    run.now_ns += 61 * S
    assert run.undo().done
    assert (run.target().aim, run.target().by_hand) == (176.0, False)


def test_a_short_ramp_waits_a_minute_after_undo() -> None:
    run = ramped(every_min=0.5)
    run.step(1, spm=160.0)
    assert run.adjust(run.target().aim - 8.0).done
    until_s(run, 20.0)
    assert run.undo().done
    aim, undone_ns = run.target().aim, run.now_ns
    until_s(run, undone_ns / S + 59)
    assert run.target().aim == aim
    until_s(run, undone_ns / S + 62)
    assert run.target().aim > aim


def test_what_is_left_before_and_in_a_drill_is_the_drills_own() -> None:
    a_drill = drill(cadence_aim(), blocks=(block("cued", 1.0),))
    made = prescription(a_drill)
    course = DrillRun(lay_out(a_drill, 10.1), made.goals, a_drill, NO_LIMITS)
    session = Session(as_athlete(made), View.SIDE, time_limit_s=3_600.0, course=course)
    assert session.snapshot(0).remaining_s == 60.0
    session.on_tick(0, Facts())
    session.on_command(Start(), 5 * S)
    session.on_tick(25 * S, Facts())
    assert session.snapshot(25 * S).remaining_s == 40.0
    short = Session(as_athlete(made), View.SIDE, time_limit_s=30.0, course=course)
    assert short.snapshot(0).remaining_s == 30.0, "the limit, where that comes first"
    steps = lay_out(drill(cadence_aim(), blocks=(block("uncued", steps=90),)), 10.1)
    unknown = DrillRun(steps, made.goals, a_drill, NO_LIMITS)
    session = Session(as_athlete(made), View.SIDE, time_limit_s=3_600.0, course=unknown)
    assert session.snapshot(0).remaining_s is None, "by steps: nobody knows"


# whatever is asked


CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["adjust", "undo", "wait", "step"]),
        st.floats(100.0, 240.0),
        st.integers(0, 3),
    ),
    max_size=40,
)


@settings(deadline=None)
@given(CHANGES)
def test_no_row_of_changes_leads_past_the_limits(changes: list[tuple[str, float, int]]) -> None:
    run = Run(cadence_target(beat_spm=165.0, low=161.0, high=169.0))
    number = 1
    before = 165.0
    for what, aim, behind in changes:
        state = run.target()
        if what == "adjust":
            answer = run.adjust(aim, max(0, state.revision - behind))
            allowed = state.aim_least <= aim <= state.aim_most and behind == 0
            assert answer.done == allowed
        elif what == "undo":
            run.undo()
        elif what == "wait":
            run.now_ns += behind * 30 * S
        else:
            number += 1
            run.step(number + round(run.now_ns / STEP_NS), spm=160.0)
        now = run.target()
        assert now.revision >= state.revision
        assert abs(now.aim - before) <= 0.05 * OWN_SPM + 1e-6
        before = now.aim
        held = Target(
            measure="cadence",
            unit="steps/min",
            low=now.low,
            high=now.high,
            beat_spm=now.beat_spm,
        )
        assert too_much(held, Limits(), OWN_SPM) is None
        assert now.high is not None
        assert now.low is not None
        assert now.high - now.low == pytest.approx(8.0)


@settings(max_examples=40, deadline=None)
@given(CHANGES, st.sampled_from([0.5, 2.0]), st.sampled_from([0, 7]))
def test_no_row_of_changes_in_a_drill_leads_past_the_limits(
    changes: list[tuple[str, float, int]], every_min: float, wait_min: int
) -> None:
    """Whoever moves it, hand, undo or ramp: by one step within a minute, and never over +10 %."""
    run = ramped(every_min)
    run.step(1, spm=160.0)
    held: list[tuple[int, float]] = [(run.now_ns, run.target().aim)]
    """When each aim was seen last."""
    for what, aim, behind in changes:
        state = run.target()
        if what == "adjust":
            # as far as it may be moved, so that the limits are met often
            run.adjust(min(max(aim, state.aim_least), state.aim_most))
        elif what == "undo":
            run.undo()
        elif what == "wait":
            until_s(run, run.now_ns / S + 1 + 25 * behind + 60 * wait_min)
        else:
            until_s(run, run.now_ns / S + 1)
        now = run.target()
        recent = [one for at_ns, one in held if run.now_ns - at_ns <= 60 * S]
        assert all(abs(now.aim - one) <= 0.05 * OWN_SPM + 0.1 for one in recent), (now.aim, recent)
        assert now.aim <= 1.1 * OWN_SPM + 1e-6
        held.append((run.now_ns, now.aim))
