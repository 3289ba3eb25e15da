"""Charts get each point once, from one run, in one unit, on an axis that does not jump."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.screens.clinician.chart_data import KEPT_NS, Traces, axis_range, nice_step
from shared.flow import Side
from shared.messages import Point
from tests.feedback.screens.panel_feed import S

NOTHING = (math.nan, math.nan)


def point(
    number: int,
    at_s: float,
    value: float = 10.0,
    side: Side | None = Side.LEFT,
    unit: str = "cm",
    percent_leg: float | None = None,
) -> Point:
    at_ns = round(at_s * S)
    return Point(number, at_ns, number, "strike_ahead", side, value, unit, percent_leg, 1.0, 0.9)


def filled(*points: Point) -> Traces:
    traces = Traces()
    traces.begin("one")
    traces.add(points)
    return traces


def test_points_come_out_by_side_in_seconds_before_now() -> None:
    traces = filled(point(1, 1.0, 11.0), point(2, 1.5, 12.0, Side.RIGHT), point(3, 2.0, 13.0))
    ago, values = traces.series("strike_ahead", Side.LEFT, "cm", 3 * S)
    assert ago.tolist() == [-2.0, -1.0]
    assert values.tolist() == [11.0, 13.0]
    assert traces.series("strike_ahead", None, "cm", 3 * S)[0].size == 0
    assert traces.series("cadence", None, "steps/min", 3 * S)[0].size == 0


def test_each_point_is_taken_once_however_often_it_comes() -> None:
    traces = filled(point(1, 1.0), point(2, 2.0))
    assert not traces.add((point(1, 1.0), point(2, 2.0)))
    assert traces.add((point(2, 2.0), point(3, 3.0)))
    assert traces.series("strike_ahead", Side.LEFT, "cm", 3 * S)[1].size == 3
    assert traces.newest == 3


def test_another_run_begins_empty_and_the_same_run_goes_on() -> None:
    traces = filled(point(7, 1.0))
    traces.begin("one")
    assert traces.newest == 7
    traces.begin("two")
    assert traces.newest == 0
    assert traces.add((point(1, 1.0),))


def test_values_in_another_unit_are_turned_into_it_or_left_out() -> None:
    traces = filled(
        point(1, 1.0, 14.0, percent_leg=16.0),
        point(2, 2.0, 17.0, unit="% leg"),
        point(3, 3.0, 15.0),
    )
    assert traces.series("strike_ahead", Side.LEFT, "% leg", 3 * S)[1].tolist() == [16.0, 17.0]
    assert traces.series("strike_ahead", Side.LEFT, "cm", 3 * S)[1].tolist() == [14.0, 15.0]


def test_steps_that_are_known_late_stand_in_their_order() -> None:
    traces = filled(point(1, 2.0, 1.0), point(2, 1.0, 2.0))
    ago, values = traces.series("strike_ahead", Side.LEFT, "cm", 3 * S)
    assert ago.tolist() == [-2.0, -1.0]
    assert values.tolist() == [2.0, 1.0]


def test_no_number_is_no_point() -> None:
    traces = filled(point(1, 1.0, math.nan))
    assert traces.series("strike_ahead", Side.LEFT, "cm", 3 * S)[0].size == 0


def test_ten_minutes_are_kept() -> None:
    traces = filled(point(1, 1.0), point(2, 500.0))
    traces.forget(2 * S + KEPT_NS)
    assert traces.series("strike_ahead", Side.LEFT, "cm", 600 * S)[1].size == 1


@given(
    st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=30),
    st.floats(0.01, 100.0),
)
def test_an_axis_holds_all_values_and_stays_while_they_fit(
    values: list[float], least: float
) -> None:
    array = np.array(values)
    low, high = axis_range(array, (), least, NOTHING)
    assert low <= array.min()
    assert array.max() <= high
    assert high - low >= least
    assert axis_range(array, (), least, (low, high)) == (low, high)


def test_an_axis_goes_with_what_leaves_it_and_shrinks_when_it_is_far_too_wide() -> None:
    steady = np.array([10.0, 12.0])
    assert axis_range(steady, (), 1.0, (8.0, 13.0)) == (8.0, 13.0)
    assert axis_range(np.array([10.0, 20.0]), (), 1.0, (8.0, 13.0))[1] > 20.0
    low, high = axis_range(steady, (), 1.0, (-50.0, 50.0))
    assert high - low < 10.0


def test_marks_are_in_sight_and_an_empty_chart_has_an_axis() -> None:
    low, high = axis_range(np.array([10.0]), (30.0,), 1.0, NOTHING)
    assert low < 10.0
    assert high > 30.0
    assert axis_range(np.empty(0), (), 5.0, NOTHING) == (0.0, 5.0)
    assert axis_range(np.empty(0), (), 5.0, (2.0, 9.0)) == (2.0, 9.0)


@pytest.mark.parametrize(
    ("about", "step"), [(0.65, 1.0), (1.0, 1.0), (1.1, 2.0), (2.4, 5.0), (0.034, 0.05), (70, 100)]
)
def test_nice_steps(about: float, step: float) -> None:
    assert nice_step(about) == pytest.approx(step)
