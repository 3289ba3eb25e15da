"""The session: start, cues, doubts, stop, and what it tells screens and the journal."""

from __future__ import annotations

import math

import msgspec
import pytest
from msgspec.structs import replace

from feedback.records.entries import (
    CueEntry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    ProblemEntry,
    StateEntry,
)
from feedback.session import CaptureState, Facts, Outputs, Session, Start, StopAsked
from shared.messages import SessionState, Snapshot, StopReason
from shared.problems import describe
from shared.records import CueKind, EventKind, GaitEvent, Side, View
from shared.targets import CueStyle, Target
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

NO_RUNNER = ("no_runner",)


class Run:
    """A session that is fed one step at a time; the decision falls 20 ms after the frame."""

    def __init__(self, *targets: Target, time_limit_s: float | None = None) -> None:
        self.session = Session(athlete(*targets), View.SIDE, time_limit_s=time_limit_s)
        self.now_ns = 0

    def start(self) -> Run:
        self.session.on_command(Start(), self.now_ns)
        return self

    def step(
        self,
        number: int,
        strike: float | None = None,
        spm: float | None = None,
        doubts: tuple[str, ...] = (),
        late_ns: int = 20 * MS,
    ) -> Outputs:
        measures = []
        if strike is not None:
            measures.append(measure(number, strike))
        if spm is not None:
            measures.append(cadence(number, spm))
        captured_ns = number * STEP_NS + 80 * MS
        self.now_ns = captured_ns + late_ns
        return self.session.on_update(update(captured_ns, *measures, doubts=doubts), self.now_ns)

    def frame(self, captured_ns: int, doubts: tuple[str, ...] = ()) -> Outputs:
        self.now_ns = captured_ns + 20 * MS
        return self.session.on_update(update(captured_ns, doubts=doubts), self.now_ns)

    def snapshot(self) -> Snapshot:
        return self.session.snapshot(self.now_ns)


def sounds(*outputs: Outputs) -> list[str]:
    return [cue.sound for one in outputs for cue in one.cues]


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


def test_an_old_frame_is_not_cued_whatever_stamp_its_measure_bears() -> None:
    run = Run(strike_target(average_steps=1)).start()
    one = measure(0, 20.0, captured_ns=200 * MS)
    assert run.session.on_update(update(0, one), 300 * MS).cues == ()
