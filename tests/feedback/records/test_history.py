"""A person's sessions as rows, and each measure's series over real dates."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from feedback.records.comparing import Since
from feedback.records.history import (
    Conditions,
    conditions,
    date_ticks,
    days_since_first,
    measure_series,
)
from feedback.records.summary import Answer, Digest
from feedback.training.counting import SessionPart
from shared.flow import View
from shared.targets import Question
from tests.feedback.records.made_up import cadence, made_up
from tests.feedback.training.making import baseline, goals

SIDE = Conditions(view=View.SIDE, belt_speed_kmh=10.0)


def history() -> tuple[Digest, ...]:
    cued = cadence(168.0, part=SessionPart.CUED)
    pain = Answer(at_s=60.0, what=Question.PAIN, value=3, asked=True, source="runner")
    return (
        made_up(0, baseline=True, means=(cadence(160.0),)),
        made_up(1, means=(cadence(161.0), cued), answers=(pain,)),
        made_up(4, view=View.BEHIND, means=(cadence(150.0),)),
        made_up(9, means=(cadence(164.0),), own=baseline(), goals=goals()),
        made_up(10, belt_speed_kmh=12.0, means=(cadence(170.0),)),
        made_up(11, trial=True, means=(cadence(199.0),)),
    )


def test_every_session_says_what_it_counts_as_and_how_it_was_rated() -> None:
    found = history()
    assert [one.counts_as for one in found] == ["baseline", *["session"] * 4, "trial"]
    assert [one.pain_worst for one in found[:3]] == [None, 3, None]


def test_what_can_be_compared_is_by_view_and_speed_the_newest_first() -> None:
    assert conditions(history()) == (
        Conditions(view=View.SIDE, belt_speed_kmh=12.0),
        SIDE,
        Conditions(view=View.BEHIND, belt_speed_kmh=10.0),
    )


def test_a_series_tells_what_was_cued_and_how_surely_each_mean_is_known() -> None:
    (series,) = measure_series(history(), SIDE)
    means = [(one.started_utc[:10], one.cued, one.uncued) for one in series.levels]
    assert [(day, cued and cued.mean, uncued and uncued.mean) for day, cued, uncued in means] == [
        ("2025-01-02", 168.0, 161.0),
        ("2025-01-10", None, 164.0),
    ]
    # Of a standard error of 0.3 from 40 degrees of freedom: t = 1.684 (Fisher and Yates's table,
    # from memory), 90 %.
    halves = [mean.half_width for one in means for mean in one[1:] if mean is not None]
    assert halves == pytest.approx([0.3 * 1.684] * 3, rel=0.01)
    assert series.reference is not None
    assert (series.reference.since, series.reference.value) == (Since.BASELINE, 160.0)
    assert series.band == goals()[0].targets[-1]


def test_without_a_session_there_is_nothing_and_no_fault() -> None:
    assert (conditions(()), measure_series((), SIDE)) == ((), ())
    assert date_ticks(()) == []


@pytest.mark.parametrize("days", [0, 1, 6, 13, 40, 100, 400, 1500, 9000])
def test_dates_below_an_axis_are_few_round_and_within_it(days: int) -> None:
    first = datetime(2025, 1, 31, 17, 30, tzinfo=UTC)
    begun = [one.isoformat() for one in (first, first + timedelta(days=days))]
    ticks = date_ticks(begun)
    assert 1 <= len(ticks) <= 10
    assert all(0.0 <= at <= days for at, _when in ticks)
    for at, when in ticks:
        assert (when.hour, when.minute) == (0, 0)
        # As far along the axis as its date is from the first session's.
        whole = (when.date() - first.astimezone().date()).days
        assert at == pytest.approx(max(0.0, whole - (17.5 / 24)), abs=0.6)


def test_a_gap_of_weeks_is_one_on_the_axis() -> None:
    begun = [one.started_utc for one in (made_up(0), made_up(2), made_up(30))]
    assert days_since_first(begun) == [0.0, 2.0, 30.0]
