"""Today's session of a prescription, its result and its log; and what a block comes to."""

from __future__ import annotations

import stat
from pathlib import Path
from typing import Any

import msgspec
import pytest

from feedback.athlete_files import plan_log as progress
from feedback.athlete_files.plan_log import (
    PlanLog,
    read_log,
    read_result,
    result_path,
    save_log,
    save_result,
)
from feedback.athlete_files.todays_session import (
    HeldSession,
    asks_for_the_morning,
    check_agreed,
    check_rested,
    done_of,
    result_of,
    todays_session,
    with_morning,
)
from feedback.journal.entries import (
    BlockEntry,
    CueEntry,
    EventEntry,
    JudgementEntry,
    MeasureEntry,
    RatingEntry,
    StateEntry,
)
from feedback.storage import folders as shelf
from feedback.training.block_results import BlockTally, answers_of, mean_of, share_inside
from feedback.training.goals import as_athlete
from feedback.training.plan import HOUR_S, Done, Step
from shared.flow import BandState, Cue, CueKind, Side
from shared.identity import derived_id
from shared.messages import SessionState, StopReason
from shared.problems import UserError
from shared.targets import BlockKind, Prescription, Question, SessionKind
from tests.feedback.making import S, judgement, strike_target
from tests.feedback.making import measure as a_measure
from tests.feedback.training.making import UTC, bundled_plan, drill, plan, prescription, steps

DAY = 24 * HOUR_S
MADE = prescription(drill(), plan((2.0,), (1.0, 1.0)))


def log_of(*done: Done, made: Prescription = MADE) -> PlanLog:
    return PlanLog(prescription=made.check, code_name="Heron", done=done)


def done(number: int = 1, **changes: Any) -> Done:
    fields: dict[str, Any] = {
        "number": number,
        "started_unix_s": 0,
        "share_done": 1.0,
        "stop_reason": StopReason.FINISHED,
        "pain_worst": 1,
        "settled_by_morning": True,
        "levels": {"steps": 1},
        **changes,
    }
    return Done(**fields)


# today


def test_the_first_session_and_the_one_after_it() -> None:
    first = todays_session(MADE, log_of(), 0)
    assert (first.number, first.kind, first.levels) == (1, SessionKind.PRACTICE, {})
    assert [one.kind.value for one in first.blocks] == ["warm_up", "cued", "cool_down"]
    second = todays_session(MADE, log_of(done()), 2 * DAY)
    assert (second.number, second.reasons, second.levels) == (2, (), {"steps": 1})
    assert second.course(MADE).levels == {"steps": 1}
    with pytest.raises(UserError, match="All sessions of the plan are complete"):
        todays_session(MADE, log_of(done(), done(2)), 9 * DAY)


def test_any_session_can_be_asked_for_by_number() -> None:
    assert todays_session(MADE, log_of(), 0, number=2).number == 2
    assert todays_session(MADE, log_of(done(), done(2)), 9 * DAY, number=1).number == 1
    for wrong in (0, 3):
        with pytest.raises(UserError, match=f"no session {wrong}"):
            todays_session(MADE, log_of(), 0, number=wrong)


def test_without_a_plan_the_drill_is_run_again_and_again() -> None:
    made = prescription()
    today = todays_session(made, log_of(done(), done(2), made=made), 0)
    assert (today.number, today.proposal, today.reasons) == (3, None, ())
    assert [one.kind.value for one in today.blocks] == ["warm_up", "cued", "uncued", "cool_down"]


def test_rest_and_pain_hold_a_session_back() -> None:
    early = todays_session(MADE, log_of(done()), 2 * HOUR_S)
    with pytest.raises(UserError, match="22 hours at the earliest"):
        check_rested(early)
    check_rested(todays_session(MADE, log_of(done()), DAY))
    for bad in (done(pain_worst=6), done(settled_by_morning=False)):
        today = todays_session(MADE, log_of(bad), 2 * DAY)
        assert today.proposal is not None
        assert (today.proposal.step, today.number) == (Step.REPEAT, 1)
        with pytest.raises(
            UserError, match="Pain after the last session: the next one should wait"
        ):
            check_agreed(today)
    check_agreed(todays_session(MADE, log_of(done(effort=9)), 2 * DAY))


def test_the_morning_is_asked_once() -> None:
    assert not asks_for_the_morning(log_of())
    open_log = log_of(done(settled_by_morning=None))
    assert asks_for_the_morning(open_log)
    answered = with_morning(open_log, settled=False)
    assert answered.done[-1].settled_by_morning is False
    assert not asks_for_the_morning(answered)


def test_shortened_blocks_keep_their_shares() -> None:
    whole = todays_session(MADE, log_of(), 0, number=2)
    short = todays_session(MADE, log_of(), 0, number=2, shorten=10)
    assert short.planned_ns * 10 == whole.planned_ns


# blocks from the journal


def entries() -> list[Any]:
    first = BlockEntry(
        at_ns=0, number=1, count=2, kind=BlockKind.CUED, belt_speed_kmh=10.0, cued=strike_target()
    )
    second = msgspec.structs.replace(
        first, at_ns=100 * S, number=2, kind=BlockKind.UNCUED, cued=None
    )
    cue = Cue(
        kind=CueKind.OUT_OF_BAND, measure="strike_ahead", side=None, sound="out_high", words="",
        step_number=4, captured_ns=0, decided_ns=0,
    )  # fmt: skip
    warning = msgspec.structs.replace(cue, kind=CueKind.WARNING)
    (update,) = steps(1)
    return [
        EventEntry(event=update.events[0]),  # before the first block
        first,
        EventEntry(event=update.events[0]),
        MeasureEntry(measure=a_measure(0, 12.0)),
        MeasureEntry(measure=a_measure(1, 14.0)),
        MeasureEntry(measure=a_measure(2, 13.0)),
        JudgementEntry(judgement=judgement(3, BandState.UNKNOWN)),
        JudgementEntry(judgement=judgement(4, BandState.ABOVE)),
        JudgementEntry(judgement=judgement(5, BandState.INSIDE)),
        CueEntry(cue=cue),
        CueEntry(cue=warning),
        StateEntry(at_ns=30 * S, state=SessionState.PAUSED),
        StateEntry(at_ns=50 * S, state=SessionState.RUNNING),
        RatingEntry(at_ns=60 * S, what=Question.PAIN, value=2, asked=True, source="x"),
        RatingEntry(at_ns=70 * S, what=Question.PAIN, value=1, asked=False, source="x"),
        second,
        RatingEntry(at_ns=110 * S, what=Question.PAIN, value=3, asked=True, source="x"),
        StateEntry(at_ns=130 * S, state=SessionState.STOPPED),
    ]


def test_what_each_block_comes_to() -> None:
    tally = BlockTally(as_athlete(MADE))
    for entry in entries():
        tally.take(entry)
    one, two = tally.results(500 * S)
    assert (one.seconds, two.seconds) == (80.0, 30.0)  # pauses and what came after left out
    assert (one.steps, one.cued, one.cues) == (1, "strike_ahead", {"out_of_band": 1})
    assert two.cued == ""
    both = (one, two)
    assert share_inside(both, "strike_ahead", None, BlockKind.CUED) == 0.5
    assert share_inside(both, "strike_ahead", None, BlockKind.UNCUED) is None
    assert mean_of(both, "strike_ahead", Side.LEFT, "cm", BlockKind.CUED) == 12.5
    assert mean_of(both, "strike_ahead", None, "cm", BlockKind.CUED) == 13.0
    assert mean_of(both, "cadence", None, "steps/min", BlockKind.CUED) is None
    assert answers_of(both, Question.PAIN) == (2, 1, 3)


# result and log


def held(**changes: Any) -> HeldSession:
    tally = BlockTally(as_athlete(MADE))
    for entry in entries():
        tally.take(entry)
    fields: dict[str, Any] = {
        "reason": StopReason.FINISHED,
        "started_utc": UTC,
        "started_unix_s": 1000,
        "ran_ns": 110 * S,
        "blocks": tally.results(130 * S),
        "answers": {Question.PAIN: 1, Question.EFFORT: 4},
        "levels": {"steps": 1},
        **changes,
    }
    return HeldSession(**fields)


def test_the_worst_pain_counts_wherever_it_was_answered() -> None:
    today = todays_session(MADE, log_of(), 0)
    one = done_of(today, held())
    assert (one.pain_worst, one.effort, one.awkwardness) == (3, 4, None)
    assert one.share_done == pytest.approx(110 / 240, abs=0.001)
    assert done_of(today, held(answers={Question.PAIN: 5})).pain_worst == 5
    assert done_of(today, held(answers={}, blocks=())).pain_worst is None
    assert one.settled_by_morning is None


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for module in (progress, shelf):
        monkeypatch.setattr(module, "own_folder", lambda one: tmp_path / one.value)
    return tmp_path


def test_one_result_file_answers_one_prescription(data: Path) -> None:
    made = prescription(drill(), bundled_plan("five_short"))
    today = todays_session(made, log_of(made=made), 0)
    result = result_of(made, today, held(), "beltside 0", "camera 0", trial=False, morning=None)
    path = result_path(result)
    save_result(result, path)
    assert read_result(path) == result
    assert result.prescription == made.check
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    whose = derived_id("Heron")
    assert path.name == f"heron-{whose}-session1-20260302T090000000000.json"
    trial = msgspec.structs.replace(result, trial=True)
    assert result_path(trial, data).name.endswith("-trial.json")
    assert b"Heron" in path.read_bytes()  # the code name, and nothing else of the person
    path.write_text("{}")
    with pytest.raises(UserError, match="not the result of a session"):
        read_result(path)


def test_the_log_of_a_plan_is_kept_by_prescription(data: Path) -> None:
    assert read_log(MADE) == log_of()
    save_log(MADE, log_of(done()))
    assert read_log(MADE).done == (done(),)
    other = prescription(drill(), plan((3.0,)))
    assert read_log(other).done == ()
