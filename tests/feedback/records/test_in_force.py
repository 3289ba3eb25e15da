"""A report tells and draws the targets that were in force, when they were: ramp, pain, by hand."""

from __future__ import annotations

import msgspec
import pytest

from feedback.cli.common.hold_session import Plot, targets_at_start
from feedback.journal.entries import JudgementEntry, StateEntry, TargetEntry
from feedback.journal.writer import Recording, read_journal
from feedback.records.page.charts import Band, Chart
from feedback.records.page.page import ChartPart, TextLines
from feedback.records.report import session_report
from feedback.records.summarise import read_whole
from feedback.training.drill import DrillRun, lay_out
from feedback.training.goals import as_athlete
from shared.flow import View
from shared.messages import SessionState
from shared.targets import Goal
from shared.units import NS_PER_S
from tests.feedback.records import month as plans
from tests.feedback.records.month import Month


def goal_of(recording: Recording) -> Goal:
    held = recording.header.prescription
    assert held is not None
    return next(goal for goal in held.goals if goal.targets[0].measure == "cadence")


def drawn(recording: Recording) -> list[Band]:
    """The cadence's bands in the report's chart; seconds."""
    page = session_report(*read_whole(recording))
    charts = [
        part.chart
        for part in page.parts
        if isinstance(part, ChartPart) and isinstance(part.chart, Chart)
    ]
    return list(next(chart for chart in charts if chart.title.startswith("Cadence")).bands)


def said(recording: Recording) -> str:
    first = session_report(*read_whole(recording)).parts[0]
    assert isinstance(first, TextLines)
    return next(line for line in first.lines if line.startswith("Cadence (steps/min): baseline"))


def edges_judged(recording: Recording) -> list[tuple[float, float]]:
    """Second, and the edge that a value outside the band was judged by: value less error."""
    begun_ns = next(
        entry.at_ns
        for entry in recording.entries
        if isinstance(entry, StateEntry) and entry.state is SessionState.RUNNING
    )
    return [
        ((one.captured_ns - begun_ns) / NS_PER_S, one.value - one.error)
        for one in (e.judgement for e in recording.entries if isinstance(e, JudgementEntry))
        if one.measure == "cadence" and one.error
    ]


@pytest.fixture(scope="module")
def easy(tmp_path_factory: pytest.TempPathFactory) -> list[Recording]:
    month = Month(tmp_path_factory.mktemp("easy") / "sessions", shorten=6.0, pain=(1,))
    return [read_journal(path) for path in month.hold(2)]


@pytest.fixture(scope="module")
def held_back(tmp_path_factory: pytest.TempPathFactory) -> Recording:
    """Pain of caution at the first question: the ramp stands still from there on."""
    month = Month(tmp_path_factory.mktemp("pain") / "sessions", shorten=6.0, pain=(4,))
    drill = msgspec.structs.replace(month.prescription.drill, pain_every_min=1.0)
    month.prescription = msgspec.structs.replace(month.prescription, drill=drill)
    return read_journal(month.hold(1)[0])


def newer(recording: Recording) -> Recording:
    """As a session of today is recorded: with what it began with in its first line."""
    header = msgspec.structs.replace(
        recording.header,
        begun_with=tuple(goal.targets[0] for goal in recording.header.prescription.goals),  # type: ignore[union-attr]
    )
    return msgspec.structs.replace(recording, header=header)


def _near(band: Band, second: float) -> bool:
    """Within a second of a change the value may have been known a moment before it."""
    assert band.left is not None
    assert band.right is not None
    return band.left - 1 <= second <= band.right + 1


def check_drawn_as_judged(recording: Recording) -> None:
    bands, edges = drawn(recording), edges_judged(recording)
    assert len(edges) > 50
    for second, edge in edges:
        near = [b for b in bands if _near(b, second)]
        assert any(edge == pytest.approx(one, abs=1e-9) for b in near for one in (b.low, b.high))


def test_the_chart_has_the_band_that_each_step_was_judged_by(easy: list[Recording]) -> None:
    for recording in (*easy, newer(easy[0])):
        check_drawn_as_judged(recording)


def test_the_first_words_tell_the_band_of_the_start_and_when_it_moved(
    easy: list[Recording],
) -> None:
    first, last = goal_of(easy[0]).targets[0], goal_of(easy[0]).targets[-1]
    moved = [e for e in easy[0].entries if isinstance(e, TargetEntry) and e.number == 0]
    assert moved, "the ramp went on"
    line = said(easy[0])
    assert f"target {first.low:g} to {first.high:g}; " in line
    reached = moved[-1].target
    assert f"{reached.low:g} to {reached.high:g} from " in line
    assert (f"final target {last.low:g}" in line) is (reached != last)


def test_a_ramp_that_pain_held_back_is_not_told_as_reached(held_back: Recording) -> None:
    goal = goal_of(held_back)
    first, last = goal.targets[0], goal.targets[-1]
    for recording in (held_back, newer(held_back)):
        check_drawn_as_judged(recording)
        assert all((band.high or 0) < (last.high or 0) for band in drawn(recording))
        line = said(recording)
        assert f"target {first.low:g} to {first.high:g}; " in line
        assert f"; final target {last.low:g} to {last.high:g}; " in line


def test_without_any_change_or_block_the_summary_tells_what_was_in_force(
    held_back: Recording,
) -> None:
    # A record of an older version in which the target never moved, and no block cued it.
    still = tuple(
        msgspec.structs.replace(e, cued=None) if hasattr(e, "cued") else e
        for e in held_back.entries
        if not isinstance(e, TargetEntry)
    )
    ended = [t for t in held_back.summary.targets if t.measure == "cadence"]  # type: ignore[union-attr]
    told = said(msgspec.structs.replace(held_back, entries=still))
    assert f"target {ended[0].low:g} to {ended[0].high:g}; " in told


def test_a_record_begins_with_the_targets_that_the_session_begins_with() -> None:
    given = plans.prescription()
    levels = {given.goals[0].name: 1}
    blocks = lay_out(given.drill, given.belt_speed_kmh)
    course = DrillRun(blocks, given.goals, given.drill, given.limits, levels)
    athlete = as_athlete(given)
    plot = Plot(athlete=athlete, view=View.SIDE, course=course, speech=frozenset())
    first, *others = targets_at_start(plot)
    assert first == given.goals[0].targets[1]
    assert others == [goal.targets[0] for goal in given.goals[1:]]
    alone = Plot(athlete=athlete, view=View.SIDE, course=None, speech=frozenset())
    assert targets_at_start(alone) == athlete.targets
