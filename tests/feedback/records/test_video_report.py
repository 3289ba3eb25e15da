"""The page on a measured video: the same means and words as a session's, and no session."""

from __future__ import annotations

from feedback.records.page.html import as_html
from feedback.records.page.page import ChartPart, Figures, PrintedPage, TextLines
from feedback.records.video_report import Video, video_report
from shared.flow import Measure, View
from shared.problems import Problem, describe
from tests.feedback.making import cadence


def page(measures: list[Measure], *why: Problem) -> PrintedPage:
    return video_report(
        Video(
            name="run 3.mp4",
            view=View.SIDE,
            belt_speed_kmh=10.0,
            seconds=75.0,
            steps=len(measures),
            measures=measures,
            begin_ns=0,
            standing=True,
            unmeasured=tuple(why),
        )
    )


def test_means_stand_in_the_table_and_single_values_in_a_chart() -> None:
    values = [cadence(8 * n, 160.0 + n % 3) for n in range(1, 41)]
    found = page(values)
    assert found.title == "run 3.mp4: measured from a video"
    (table,) = [part for part in found.parts if isinstance(part, Figures)]
    ((title, mean, _spread, count),) = table.rows
    assert (title, count) == ("Cadence (steps/min)", "40")
    assert mean.startswith("161.0 ± ")
    (chart,) = [part.chart for part in found.parts if isinstance(part, ChartPart)]
    assert len(chart.series[0].points) == 40  # type: ignore[union-attr]
    assert "target" not in as_html(found)


def test_where_nothing_was_measured_it_says_why() -> None:
    problem = describe("no_runner")
    found = page([], problem)
    (lines,) = [part.lines for part in found.parts if isinstance(part, TextLines)]
    assert any(problem.title in line for line in lines)
    assert any(problem.action in line for line in lines)
    assert not any(isinstance(part, Figures | ChartPart) for part in found.parts)
