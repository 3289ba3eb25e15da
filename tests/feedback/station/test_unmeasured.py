"""A session of somebody of whom nothing is measured: told on every screen, and on record."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import msgspec
import numpy as np
import pytest

from feedback.cli.common.tell import LineByLine, tell_outcome
from feedback.journal.entries import MeasureEntry, ProblemEntry, StateEntry, SummaryEntry
from feedback.records.page.page import TextLines
from feedback.records.report import session_report
from feedback.records.summarise import digest
from feedback.session.interface import CaptureState, Confirm, Facts, StopAsked
from feedback.session.session import Session
from feedback.station.setup import SessionOutcome
from shared.flow import Frame, Pose, View
from shared.messages import SessionState, StopReason
from shared.problems import Problem, describe
from tests.feedback.making import S, athlete, cadence_target, strike_target, update
from tests.feedback.session_run import Run
from tests.feedback.station_bench import Bench, PacedSource, RunnerModel

ALIKE = describe("legs_alike")
SMALL = describe("runner_small", percent=30)


def frame(session: Session, at_ns: int, *problems: Problem, doubts: tuple[str, ...] = ()) -> None:
    found = msgspec.structs.replace(update(at_ns, doubts=doubts), unmeasured=problems)
    session.on_update(found, at_ns)


def codes(session: Session, at_ns: int) -> list[str]:
    return [problem.code for problem in session.snapshot(at_ns).problems]


def test_it_is_shown_before_the_start_ahead_of_other_doubts_and_goes_with_the_first_step() -> None:
    session = Run(strike_target()).session
    frame(session, S, ALIKE, SMALL, doubts=("body_cut_off",))
    assert session.state is SessionState.READY
    assert codes(session, S) == ["legs_alike", "runner_small", "body_cut_off"]
    frame(session, 2 * S)
    assert codes(session, 2 * S) == []


def test_one_reason_is_shown_once_in_the_words_that_say_more() -> None:
    session = Run(strike_target()).session
    other = msgspec.structs.replace(describe("wrong_view", view="the side"), action="Do this.")
    frame(session, S, other, doubts=("wrong_view",))
    assert session.snapshot(S).problems == (other,)


def test_no_beat_is_kept_for_somebody_of_whom_nothing_is_measured() -> None:
    run = Run(cadence_target()).start()
    run.step(0, spm=160.0)
    beats = [run.step(number, spm=160.0).beat_spm for number in range(1, 8)]
    assert beats[-1] is not None
    at_ns = run.now_ns + S
    frame(run.session, at_ns, ALIKE)
    assert run.session.on_tick(at_ns, Facts()).beat_spm is None


def test_nothing_is_said_while_the_cautions_are_read_nor_after_the_end() -> None:
    session = Session(athlete(strike_target()), View.SIDE, cautions=True)
    frame(session, S, ALIKE)
    assert codes(session, S) == []
    session.on_command(Confirm(), S)
    frame(session, 2 * S, ALIKE)
    assert codes(session, 2 * S) == ["legs_alike"]
    session.on_command(StopAsked(reason=StopReason.RUNNER, source="a test"), 3 * S)
    assert codes(session, 3 * S) == []


def test_nothing_is_said_of_a_picture_that_no_longer_comes() -> None:
    session = Run(strike_target()).session
    frame(session, S, ALIKE)
    session.on_tick(2 * S, Facts(capture=CaptureState.LOST))
    assert codes(session, 2 * S) == []


def test_the_terminal_says_what_to_do(capsys: pytest.CaptureFixture[str]) -> None:
    LineByLine()(ProblemEntry(at_ns=S, problem=ALIKE, over=False))
    assert ALIKE.action in capsys.readouterr().out


# a whole station


class ShakenModel(RunnerModel):
    """Sees somebody of whom no joint stays where it is."""

    def __init__(self) -> None:
        super().__init__()
        self._random = np.random.default_rng(7)

    def detect(self, frame: Frame) -> Pose:
        pose = super().detect(frame)
        shaken = pose.xy_px + self._random.normal(0.0, 25.0, pose.xy_px.shape)
        return dataclasses.replace(pose, xy_px=shaken)


def said(outcome: SessionOutcome, capsys: pytest.CaptureFixture[str]) -> str:
    capsys.readouterr()
    tell_outcome(outcome, None)
    return capsys.readouterr().out


def test_a_session_without_a_step_says_why_in_terminal_journal_and_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = Bench(
        tmp_path, source=PacedSource(frames=195), model=ShakenModel(), start_at_once=False
    )
    outcome = bench.run()
    assert outcome.reason is StopReason.FINISHED
    assert bench.speaker.cues == []
    why = describe("steps_uneven")
    assert outcome.tally.unmeasured == (why,)
    last = bench.station._worker.last_snapshot
    assert last is not None
    assert (last.state, last.problems) == (SessionState.STOPPED, (why,))
    told = said(outcome, capsys)
    assert "Nothing was measured." in told
    assert f"{why.title} {why.meaning}" in told
    assert why.action in told
    record = bench.record()
    came = [one.problem for one in record.entries if isinstance(one, ProblemEntry) and not one.over]
    assert why in came
    states = [one.state for one in record.entries if isinstance(one, StateEntry)]
    assert states == [SessionState.STOPPED]
    assert record.summary is not None
    assert record.summary.unmeasured == (why,)
    found = digest(record)
    assert (found.unmeasured, found.means, found.run_s) == ((why,), (), 0.0)
    first = session_report(found, ()).parts[0]
    assert isinstance(first, TextLines)
    assert f"No steps were measured. {why.title} {why.meaning}" in first.lines
    assert f"Next time: {why.action}" in first.lines
    torn = msgspec.structs.replace(record, entries=record.entries[:-1])
    assert digest(torn).unmeasured == (why,)


def test_a_session_from_another_view_gives_no_value(tmp_path: Path) -> None:
    bench = Bench(tmp_path, source=PacedSource(frames=150), view=View.BEHIND, start_at_once=False)
    outcome = bench.run()
    assert outcome.tally.measures == ()
    assert [problem.code for problem in outcome.tally.unmeasured][-1] == "wrong_view"
    kinds = {type(one) for one in bench.record().entries}
    assert kinds == {ProblemEntry, StateEntry, SummaryEntry}
    assert [problem.code for problem in digest(bench.record()).unmeasured][-1] == "wrong_view"


def test_a_session_that_cannot_tell_left_from_right_says_so_and_goes_on_without_sides(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("live.stride.leg_sides.sure", lambda *_: False)
    bench = Bench(tmp_path, source=PacedSource(frames=330))
    bench.run()
    entries = bench.record().entries
    came = [one.problem.code for one in entries if isinstance(one, ProblemEntry) and not one.over]
    assert came == ["sides_not_known"]
    measures = [one.measure for one in entries if isinstance(one, MeasureEntry)]
    assert {measure.side for measure in measures} == {None}
    assert {"cadence", "contact_time"} <= {measure.name for measure in measures}
    assert {cue.side for cue in bench.speaker.cues} <= {None}
    assert bench.speaker.cues


def test_a_session_with_steps_says_nothing_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bench = Bench(tmp_path, source=PacedSource(frames=150))
    outcome = bench.run()
    assert outcome.tally.measures
    assert outcome.tally.unmeasured == ()
    assert "Nothing was measured" not in said(outcome, capsys)
    assert digest(bench.record()).unmeasured == ()
