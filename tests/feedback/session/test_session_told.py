"""The session: its end, and what it tells screens and the journal."""

from __future__ import annotations

import math

import msgspec
import pytest
from msgspec.structs import replace

from feedback.journal.entries import (
    CueEntry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    ProblemEntry,
    StateEntry,
)
from feedback.session.session import CaptureState, Facts, Outputs, Session, Start, StopAsked
from shared.flow import EventKind, GaitEvent, Side, View
from shared.messages import SessionState, Snapshot, StopReason
from shared.problems import describe
from shared.targets import CueStyle
from tests.feedback.making import (
    MS,
    STEP_NS,
    S,
    athlete,
    cadence_target,
    measure,
    strike_target,
    update,
)
from tests.feedback.session_run import NO_RUNNER, Run


def test_the_focus_shows_value_band_state_and_line() -> None:
    run = Run(strike_target()).start()
    for step in range(4):
        run.step(step, strike=20.0)
    focus = run.snapshot().focus
    assert focus is not None
    assert (focus.value, focus.low, focus.high, focus.unit) == (20.0, None, 12.0, "cm")
    assert (focus.state, focus.words) == ("above", "cue_strike_ahead_above")
    quiet = Run(strike_target(cues=(CueStyle.OUT_OF_BAND,))).start()
    for step in range(4):
        quiet.step(step, strike=20.0)
    focus = quiet.snapshot().focus
    assert focus is not None
    assert focus.words == ""


@pytest.mark.parametrize("started", [True, False])
def test_a_stop_is_final(started: bool) -> None:
    run = Run(strike_target(), cadence_target(), time_limit_s=60.0)
    if started:
        run.start()
    for step in range(3):
        run.step(step, strike=20.0, spm=150.0)
    ask = StopAsked(reason=StopReason.RUNNER, source="runner screen", asked_ns=5)
    outputs = run.session.on_command(ask, run.now_ns)
    assert outputs.stop is StopReason.RUNNER
    assert outputs.beat_spm is None
    entry = outputs.journal[-1]
    assert isinstance(entry, StateEntry)
    assert (entry.state, entry.reason, entry.asked_ns) == (SessionState.STOPPED, "runner", 5)
    again = StopAsked(reason=StopReason.QUIT, source="console")
    for later in (
        run.session.on_command(Start(), run.now_ns),
        run.session.on_command(again, run.now_ns),
        run.step(3, strike=20.0, spm=150.0),
        run.session.on_tick(100 * S, Facts(screen_gone="runner")),
    ):
        assert later == Outputs()
    snapshot = run.snapshot()
    assert (snapshot.state, snapshot.stop_reason) == (SessionState.STOPPED, StopReason.RUNNER)
    assert snapshot.elapsed_s == pytest.approx((2 * STEP_NS + 100 * MS) / S if started else 0.0)


def test_time_ends_the_session() -> None:
    for by_tick in (True, False):
        run = Run(strike_target(), time_limit_s=2.0)
        run.now_ns = 10 * S
        run.start()
        run.session.on_tick(11 * S, Facts())
        assert run.session.snapshot(11 * S).remaining_s == 1.0
        outputs = (
            run.session.on_tick(12 * S, Facts())
            if by_tick
            else run.session.on_update(update(12 * S), 12 * S)
        )
        assert outputs.stop is StopReason.TIME
        snapshot = run.session.snapshot(20 * S)
        assert (snapshot.elapsed_s, snapshot.remaining_s) == (2.0, 0.0)


def test_the_time_before_the_start_does_not_count() -> None:
    run = Run(strike_target(), time_limit_s=2.0)
    assert run.session.on_tick(100 * S, Facts()).stop is None
    assert run.session.snapshot(100 * S).remaining_s == 2.0


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        (Facts(screen_gone="runner"), StopReason.SCREEN_LOST),
        (Facts(capture=CaptureState.ENDED), StopReason.FINISHED),
        (Facts(capture=CaptureState.FAILED), StopReason.FAULT),
    ],
)
def test_what_the_shell_knows_can_end_the_session(facts: Facts, reason: StopReason) -> None:
    run = Run(strike_target()).start()
    assert run.session.on_tick(S, facts).stop is reason
    assert run.session.stop_reason is reason


def test_problems_come_and_go_in_snapshot_and_journal() -> None:
    run = Run(strike_target()).start()
    quiet = describe("sound_missing")
    came = run.session.on_tick(0, Facts(problems=(quiet,)))
    both = run.frame(S, doubts=("wrong_view",))
    assert [p.code for p in run.snapshot().problems] == ["sound_missing", "wrong_view"]
    assert "from the side" in run.snapshot().problems[1].title
    went = run.frame(2 * S)
    entries = [one for out in (came, both, went) for one in out.journal]
    assert [(e.problem.code, e.over) for e in entries if isinstance(e, ProblemEntry)] == [
        ("sound_missing", False),
        ("wrong_view", False),
        ("wrong_view", True),
    ]


def test_doubts_are_shown_before_the_start_and_not_after_the_stop() -> None:
    run = Run(strike_target())
    run.frame(0, doubts=NO_RUNNER)
    assert [p.code for p in run.snapshot().problems] == ["no_runner"]
    run.session.on_command(StopAsked(reason=StopReason.QUIT, source="test"), S)
    assert run.snapshot().problems == ()
    failed = describe("journal_failed", why="no room")
    run.session.on_tick(2 * S, Facts(problems=(failed,)))
    assert run.snapshot().problems == (failed,)


def test_readings_carry_their_age_and_stand_in_catalogue_order() -> None:
    run = Run(strike_target()).start()
    run.step(0, strike=8.0)
    run.step(1, strike=9.0, spm=160.0)
    run.step(2, strike=10.0)
    readings = run.snapshot().readings
    shown = [(one.name, one.side, one.value) for one in readings]
    assert shown == [
        ("cadence", None, 160.0),
        ("strike_ahead", Side.LEFT, 10.0),
        ("strike_ahead", Side.RIGHT, 9.0),
    ]
    assert [one.age_ms for one in readings] == [475.0, 100.0, 475.0]


def test_decision_time_is_the_median_of_the_last_hundred() -> None:
    session = Session(athlete(strike_target()), View.SIDE)
    assert session.snapshot(0).decision_ms is None
    for number in range(150):
        captured_ns = number * 33 * MS
        late = 500 * MS if number < 50 else (number % 3 + 10) * MS
        session.on_update(update(captured_ns), captured_ns + late)
    assert session.snapshot(0).decision_ms == 11.0


def test_the_cue_log_keeps_the_last_eight() -> None:
    run = Run(strike_target(cue_gap_steps=4)).start()
    for step in range(60):
        run.step(step, strike=20.0)
    notes = run.snapshot().cues
    assert len(notes) == 8
    assert notes[-1].step_number == 59
    assert run.session.summary(run.now_ns).cues == {"out_of_band": 15}


def test_the_journal_gets_events_measures_verdicts_and_cues_but_no_broken_numbers() -> None:
    run = Run(strike_target(average_steps=1)).start()
    contact = GaitEvent(
        kind=EventKind.CONTACT,
        side=Side.LEFT,
        at_ns=0,
        captured_ns=80 * MS,
        quality=0.9,
        uncertainty_ms=8.0,
    )
    broken = measure(0, math.nan)
    frame = replace(update(80 * MS, measure(0, 20.0), broken), events=(contact,))
    outputs = run.session.on_update(frame, 100 * MS)
    kinds = [type(entry) for entry in outputs.journal]
    assert kinds == [EventEntry, MeasureEntry, JudgementEntry, CueEntry]
    summary = run.session.summary(S, measures=(measure(0, 20.0), broken))
    assert summary.steps == 1
    assert summary.measures == (measure(0, 20.0),)


def test_snapshots_are_numbered_and_say_what_the_shell_says() -> None:
    session = Session(athlete(strike_target()), View.SIDE, demo=True)
    session.on_tick(0, Facts(frames_per_s=29.5, sound_on=True))
    first, second = session.snapshot(1), session.snapshot(2)
    assert (first.number, second.number) == (1, 2)
    assert (first.frames_per_s, first.sound_on, first.demo) == (29.5, True, True)
    assert msgspec.msgpack.decode(msgspec.msgpack.encode(second), type=Snapshot) == second


def test_a_second_start_changes_nothing() -> None:
    run = Run(strike_target()).start()
    outputs = run.session.on_command(Start(), 5 * S)
    assert outputs == Outputs()
    assert run.session.snapshot(5 * S).elapsed_s == 5.0
