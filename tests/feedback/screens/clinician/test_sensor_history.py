"""The small lines of heart rate and belt speed: what is kept, and gaps where nothing was heard."""

from __future__ import annotations

import pytest

from feedback.screens.clinician.sensor_history import KEPT_NS, SensorHistory
from shared.messages import SensorValue
from shared.units import NS_PER_S


def _value(value: float | None, name: str = "heart_rate") -> tuple[SensorValue, ...]:
    return (SensorValue(name=name, value=value, unit=""),)


def test_a_gap_breaks_the_line() -> None:
    """Lost for ten seconds: two lines, none across."""
    history = SensorHistory()
    for at_s in range(60):
        history.take(at_s * NS_PER_S, _value(None if 20 <= at_s < 30 else 150.0))
    first, second = history.lines("heart_rate", 60 * NS_PER_S)
    assert first[-1][0] < 1 - 40 / 600
    assert second[0][0] == pytest.approx(1 - 30 / 600, abs=0.004)
    assert {y for _x, y in (*first, *second)} == {0.5}


def test_small_changes_stay_small() -> None:
    """Five beats up and down take an eighth of the height; sixty fill it."""
    history = SensorHistory()
    for at_s, rate in ((0, 150.0), (10, 155.0)):
        history.take(at_s * NS_PER_S, _value(rate))
    (line,) = history.lines("heart_rate", 10 * NS_PER_S)
    assert line[1][1] - line[0][1] == pytest.approx(5 / 40)
    history.take(20 * NS_PER_S, _value(210.0))
    (line,) = history.lines("heart_rate", 20 * NS_PER_S)
    assert [round(y, 6) for _x, y in line] == [0.0, round(5 / 60, 6), 1.0]


def test_ten_minutes_are_kept_and_no_more() -> None:
    """An hour at ten snapshots a second stays small; what is not charted is left out."""
    history = SensorHistory()
    for at in range(36_000):
        history.take(at * NS_PER_S // 10, _value(150.0))
    history.take(0, _value(3.0, "incline"))
    assert history.names == ("heart_rate",)
    (line,) = history.lines("heart_rate", 3600 * NS_PER_S)
    assert 290 <= len(line) <= KEPT_NS // (2 * NS_PER_S) + 1
    assert history.lines("belt_speed", 0) == ()
