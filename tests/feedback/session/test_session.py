"""The session: start, cues, doubts, beat, and when it is silent."""

from __future__ import annotations

import math

import pytest
from msgspec.structs import replace

from feedback.journal.entries import (
    JudgementEntry,
)
from feedback.session.session import CaptureState, Facts
from shared.flow import CueKind
from shared.messages import SessionState
from shared.problems import describe
from shared.targets import CueStyle, Target
from tests.feedback.making import (
    MS,
    STEP_NS,
    S,
    cadence_target,
    measure,
    strike_target,
    update,
)
from tests.feedback.session_run import NO_RUNNER, Run, sounds


def test_nothing_is_judged_or_cued_before_the_start() -> None:
    run = Run(strike_target())
    outputs = [run.step(i, strike=20.0) for i in range(12)]
    assert sounds(*outputs) == []
    snapshot = run.snapshot()
    assert snapshot.state is SessionState.READY
    assert snapshot.focus is not None
    assert snapshot.focus.value is None
    # The set-up needs the numbers all the same.
    assert [reading.value for reading in snapshot.readings] == [20.0, 20.0]


def test_cues_out_and_back_with_the_figures_behind_them() -> None:
    run = Run(strike_target()).start()
    outputs = [run.step(i, strike=20.0 if i < 8 else 9.0) for i in range(20)]
    assert sounds(*outputs) == ["out_high", "back"]
    out = outputs[3].cues[0]
    assert (out.measure, out.side, out.step_number) == ("strike_ahead", None, 3)
    assert out.decided_ns - out.captured_ns == 20 * MS
    notes = run.snapshot().cues
    assert [note.kind for note in notes] == [CueKind.OUT_OF_BAND, CueKind.BACK_IN_BAND]
    assert [note.latency_ms for note in notes] == [20.0, 20.0]


def test_only_the_target_in_focus_is_cued_and_the_other_is_judged() -> None:
    run = Run(cadence_target(cues=(CueStyle.OUT_OF_BAND,)), strike_target()).start()
    outputs = [run.step(i, strike=30.0, spm=168.0) for i in range(12)]
    assert sounds(*outputs) == []
    judged = {
        entry.judgement.measure
        for one in outputs
        for entry in one.journal
        if isinstance(entry, JudgementEntry)
    }
    assert judged == {"cadence", "strike_ahead"}
    summary = run.session.summary(run.now_ns)
    assert [(one.judged, one.inside) for one in summary.targets] == [(12, 12), (9, 0)]


def test_targets_that_the_view_cannot_give_are_left_out() -> None:
    shift = Target(measure="pelvic_shift", unit="cm", high=2.0)
    both = Run(shift, strike_target()).start()
    focus = both.snapshot().focus
    assert focus is not None
    assert focus.measure == "strike_ahead"
    none = Run(shift).start()
    none.step(0, strike=20.0)
    assert none.snapshot().focus is None


@pytest.mark.parametrize("code", ["no_runner", "second_person", "wrong_view", "quality_low"])
def test_no_cue_and_no_beat_while_in_doubt(code: str) -> None:
    run = Run(cadence_target()).start()
    for step in range(8):
        run.step(step, spm=168.0)
    assert run.step(8, spm=168.0).beat_spm == 168.0
    doubted = run.step(9, spm=150.0, doubts=(code,))
    assert (doubted.cues, doubted.beat_spm) == ((), None)
    snapshot = run.snapshot()
    assert [problem.code for problem in snapshot.problems] == [code]
    assert snapshot.focus is not None
    assert (snapshot.focus.value, snapshot.focus.state) == (None, "unknown")


def test_an_old_frame_is_judged_but_not_cued() -> None:
    fresh, old = Run(strike_target()).start(), Run(strike_target()).start()
    for step in range(3):
        fresh.step(step, strike=20.0)
        old.step(step, strike=20.0)
    assert sounds(fresh.step(3, strike=20.0, late_ns=250 * MS)) == ["out_high"]
    late = old.step(3, strike=20.0, late_ns=250 * MS + 1)
    assert late.cues == ()
    assert any(isinstance(entry, JudgementEntry) for entry in late.journal)
    assert sounds(old.step(4, strike=20.0)) == ["out_high"]


def test_a_measure_from_an_old_frame_is_not_cued_with_a_new_one() -> None:
    run = Run(strike_target()).start()
    for step in range(3):
        run.step(step, strike=20.0)
    captured_ns = 3 * STEP_NS + 400 * MS
    outputs = run.session.on_update(update(captured_ns, measure(3, 20.0)), captured_ns)
    assert outputs.cues == ()


def test_a_stamp_from_the_future_is_not_cued() -> None:
    run = Run(strike_target()).start()
    outputs = [run.step(i, strike=20.0, late_ns=-1) for i in range(12)]
    assert sounds(*outputs) == []


@pytest.mark.parametrize("changes", [{"value": math.nan}, {"quality": 0.2}, {"value": 99.0}])
def test_poor_values_are_not_cued(changes: dict[str, float]) -> None:
    run = Run(strike_target()).start()
    for step in range(12):
        one = replace(measure(step, 20.0), **changes)
        outputs = run.session.on_update(update(one.captured_ns, one), one.captured_ns + MS)
        assert outputs.cues == ()


def test_the_beat_comes_after_a_second_without_doubt_and_goes_at_once() -> None:
    run = Run(cadence_target()).start()
    assert run.frame(0).beat_spm is None
    beats = [run.frame(n * 100 * MS).beat_spm for n in range(1, 14)]
    assert beats == [None] * 9 + [168.0] * 4
    assert run.frame(1400 * MS, doubts=NO_RUNNER).beat_spm is None
    assert run.frame(1500 * MS).beat_spm is None


def test_the_beat_goes_when_frames_stop_coming() -> None:
    run = Run(cadence_target()).start()
    for number in range(20):
        run.frame(number * 100 * MS)
    last_ns = 1900 * MS
    assert run.session.on_tick(last_ns + 250 * MS, Facts()).beat_spm == 168.0
    assert run.session.on_tick(last_ns + 251 * MS, Facts()).beat_spm is None


def test_no_beat_when_it_is_not_asked_for() -> None:
    run = Run(cadence_target(cues=(CueStyle.WORDS,))).start()
    assert {run.frame(n * 100 * MS).beat_spm for n in range(30)} == {None}


def test_a_lost_picture_silences_and_forgets_the_steps() -> None:
    run = Run(strike_target()).start()
    for step in range(8):
        run.step(step, strike=9.0)
    lost = describe("picture_lost", seconds=1)
    facts = Facts(capture=CaptureState.LOST, problems=(lost,))
    outputs = run.session.on_tick(run.now_ns + 900 * MS, facts)
    assert (outputs.cues, outputs.beat_spm, outputs.stop) == ((), None, None)
    assert [problem.code for problem in run.snapshot().problems] == ["picture_lost"]
    # Frames are back before the next tick has said so: not yet.
    assert run.step(11, strike=20.0).cues == ()
    run.session.on_tick(run.now_ns, Facts())
    outputs_after = [run.step(step, strike=20.0) for step in range(12, 16)]
    assert [len(one.cues) for one in outputs_after] == [0, 0, 0, 1]


def test_even_a_short_loss_of_the_picture_forgets_the_steps() -> None:
    run = Run(strike_target()).start()
    for step in range(8):
        run.step(step, strike=9.0)
    run.session.on_tick(run.now_ns + 50 * MS, Facts(capture=CaptureState.LOST))
    run.session.on_tick(run.now_ns + 100 * MS, Facts())
    outputs = [run.step(step, strike=40.0) for step in range(8, 12)]
    assert [len(one.cues) for one in outputs] == [0, 0, 0, 1]


def test_a_lost_picture_hides_what_the_last_frame_made_doubtful() -> None:
    run = Run(strike_target()).start()
    run.frame(0, doubts=NO_RUNNER)
    lost = describe("picture_lost", seconds=1)
    run.session.on_tick(S, Facts(capture=CaptureState.LOST, problems=(lost,)))
    assert [problem.code for problem in run.snapshot().problems] == ["picture_lost"]


def test_no_steps_for_two_seconds_blank_the_number() -> None:
    run = Run(strike_target()).start()
    for step in range(8):
        run.step(step, strike=9.0)
    focus = run.snapshot().focus
    assert focus is not None
    assert focus.value == 9.0
    run.session.on_tick(7 * STEP_NS + 2 * S + 1, Facts())
    focus = run.snapshot().focus
    assert focus is not None
    assert focus.value is None


def test_an_old_frame_is_not_cued_whatever_stamp_its_measure_bears() -> None:
    run = Run(strike_target(average_steps=1)).start()
    one = measure(0, 20.0, captured_ns=200 * MS)
    assert run.session.on_update(update(0, one), 300 * MS).cues == ()
