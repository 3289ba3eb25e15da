"""The report's pictures and table: before against after, minutes and seconds, what is first."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from reportlab.graphics.shapes import Circle, Group, Line, Polygon, Rect

from feedback.records.page.changes import ChangePicture
from feedback.records.page.charts import time_ticks
from feedback.records.page.page import ChartPart, Figures, PrintedPage
from feedback.records.report import session_report
from feedback.records.summary import Digest, MeanValue
from feedback.training.counting import SessionPart
from shared.flow import Side
from shared.own_values import Baseline
from tests.feedback.records.made_up import cadence, made_up
from tests.feedback.training.making import baseline, goals


def held(own: Baseline | None = None, **fields: Any) -> Digest:
    aims = goals()
    lean = msgspec.structs.replace(cadence(8.0), measure="trunk_lean", unit="deg")
    cued = cadence(168.0, part=SessionPart.CUED)
    known: dict[str, Any] = {
        "own": baseline() if own is None else own,
        "goals": aims,
        "first_targets": (aims[0].targets[0],),
        # As the summary has them: by the catalogue's order, not by what was aimed at.
        "means": (lean, cued, cadence(164.0)),
    }
    return made_up(1, **{**known, **fields})


def picture(page: PrintedPage) -> ChangePicture:
    (found,) = [
        part.chart
        for part in page.parts
        if isinstance(part, ChartPart) and isinstance(part.chart, ChangePicture)
    ]
    return found


def table(page: PrintedPage) -> Figures:
    return next(part for part in page.parts if isinstance(part, Figures))


def test_before_and_after_stand_on_the_measures_scale_with_their_uncertainty() -> None:
    (scale,) = picture(session_report(held(), ())).scales
    assert [(lane.name, lane.value) for lane in scale.lanes] == [
        ("baseline", 160.0),
        ("without cues", 164.0),
        ("with cues", 168.0),
    ]
    assert all(lane.half for lane in scale.lanes)
    target = goals()[0].targets[0]
    assert (scale.low, scale.high) == (target.low, target.high)
    assert "Change since baseline: +4.0 steps/min." in scale.said


def test_the_picture_draws_them_where_the_scale_has_them() -> None:
    found = picture(session_report(held(), ()))
    shapes = found.drawing().contents
    circles = [one for one in shapes if isinstance(one, Circle)]
    (triangle,) = [one for one in shapes if isinstance(one, Polygon)]
    before, after = circles
    assert (before.fillColor, after.fillColor) != (after.fillColor, before.fillColor)
    cued_x = triangle.points[4]
    # 160, 164 and 168: as far apart one from the other.
    assert after.cx - before.cx == pytest.approx(cued_x - after.cx)
    (band,) = [one for one in shapes if isinstance(one, Rect)]
    scale = (after.cx - before.cx) / 4.0
    low = found.scales[0].low
    assert low is not None
    assert band.x == pytest.approx(before.cx + (low - 160.0) * scale)
    # The whiskers are as long as the interval.
    half = found.scales[0].lanes[1].half
    assert half is not None
    whiskers = [one for one in shapes if isinstance(one, Line) and one.y1 == one.y2 == after.cy]
    assert [one.x2 - one.x1 for one in whiskers] == pytest.approx([2 * half * scale])
    assert all(0 <= x <= found.width for one in shapes if isinstance(one, Group)
               for x in (string.x for string in one.contents))  # fmt: skip


def test_what_was_aimed_at_comes_first_and_every_baseline_is_shown() -> None:
    own = baseline()
    more = msgspec.structs.replace(own.measures[0], name="contact_time", unit="ms", mean=260.0)
    page = session_report(held(msgspec.structs.replace(own, measures=(*own.measures, more))), ())
    rows = {row[0]: row for row in table(page).rows}
    assert next(iter(rows)).startswith("Cadence")
    (title,) = [title for title in rows if title.endswith("(ms)")]
    assert rows[title][1:4] == ("260.0", "-", "-")


@pytest.mark.parametrize(
    ("source", "shown"),
    [
        ("/home/anna/clips/run 3.mp4", "run 3.mp4."),
        ("C:\\Users\\anna\\run.mp4", "run.mp4."),
        ("at home, clips/run.mp4", "run.mp4."),
        ("camera 0", "camera 0."),
        ("rtsp://10.0.0.5/stream", "rtsp://10.0.0.5/stream."),
    ],
)
def test_no_path_of_a_file_is_printed(source: str, shown: str) -> None:
    subtitle = session_report(held(source=source), ()).subtitle
    assert subtitle.endswith(f"10 km/h, {shown}")
    assert "anna" not in subtitle


def test_without_anything_to_compare_there_is_no_picture() -> None:
    for one in (held(baseline=True), held(means=()), held(first_targets=(), goals=())):
        page = session_report(one, ())
        assert not any(isinstance(part, ChartPart) for part in page.parts)


@pytest.mark.parametrize(
    ("end_s", "labels"),
    [
        (240.0, ["0:00", "0:30", "1:00", "1:30", "2:00", "2:30", "3:00", "3:30", "4:00"]),
        (1200.0, ["0:00", "5:00", "10:00", "15:00", "20:00"]),
        (5400.0, ["0:00", "10:00", "20:00", "30:00", "40:00", "50:00", "60:00", "70:00",
                  "80:00", "90:00"]),
    ],
)  # fmt: skip
def test_times_below_an_axis_are_minutes_and_seconds(end_s: float, labels: list[str]) -> None:
    ticks = time_ticks(0.0, end_s)
    assert [label for _at, label in ticks] == labels
    assert all(f"{int(at) // 60}:{int(at) % 60:02d}" == label for at, label in ticks)


def test_both_sides_are_taken_together_for_a_target_of_both() -> None:
    sides = tuple(
        MeanValue(
            measure="strike_ahead", side=side, unit="cm", part=SessionPart.UNCUED, mean=mean,
            sd=1.0, values=50, sem=0.2, stated=1.0, freedom=40.0,
        )
        for side, mean in ((Side.LEFT, 24.0), (Side.RIGHT, 26.0))
    )  # fmt: skip
    found = held(means=sides).found("strike_ahead", None, SessionPart.UNCUED, "cm")
    assert found is not None
    assert (found.mean, found.values) == (25.0, 100)
