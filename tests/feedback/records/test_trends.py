"""What counts as change: beyond the steps' noise and the scatter between sessions."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta

import pytest

from feedback.records.digest import Mean, Part
from feedback.records.store import SessionMean
from feedback.records.trends import between_sessions, trends
from shared.targets import SessionKind


def session(number: int, value: float, sem: float | None = 0.3) -> SessionMean:
    begin = datetime(2025, 1, 1, tzinfo=UTC) + timedelta(days=number)
    return SessionMean(
        uid=f"{number:05}",
        started_utc=begin.isoformat(),
        kind=SessionKind.PRACTICE,
        number=number,
        mean=Mean(
            measure="cadence",
            side=None,
            unit="steps/min",
            part=Part.UNCUED,
            mean=value,
            sd=2.0,
            values=100,
            sem=sem,
            stated=1.0,
        ),
    )


def test_noise_of_two_sessions_is_that_of_their_steps() -> None:
    (trend,) = trends([session(1, 160.0), session(2, 161.0)], ())
    assert trend.verdict is not None
    assert trend.verdict.noise == pytest.approx(1.96 * 2**0.5 * 0.3)
    assert trend.verdict.real
    assert not trend.verdict.between


def test_scatter_between_sessions_adds_to_noise() -> None:
    values = [160.0, 163.0, 159.0, 162.5, 161.0]
    (trend,) = trends([session(n, value) for n, value in enumerate(values)], ())
    assert trend.verdict is not None
    assert trend.verdict.between
    assert not trend.verdict.real


def test_without_uncertainty_nothing_is_called_real() -> None:
    # Two home results: their files hold no spread.
    (trend,) = trends([session(1, 160.0, None), session(2, 175.0, None)], ())
    assert trend.verdict is not None
    assert trend.verdict.noise is None
    assert not trend.verdict.real


def test_one_session_has_nothing_to_compare_with() -> None:
    (trend,) = trends([session(1, 160.0)], ())
    assert trend.verdict is None


def test_chance_alone_is_seldom_called_real() -> None:
    # 1.96 * sqrt(2) * SEM stands for 5 % false alarms; scatter is guessed from few sessions here.
    chance = random.Random(4)
    alarms = 0
    for _ in range(400):
        month = [session(n, 160.0 + chance.gauss(0.0, 1.0), 0.1) for n in range(12)]
        (trend,) = trends(month, ())
        assert trend.verdict is not None
        alarms += trend.verdict.real
    assert alarms < 0.12 * 400


def test_the_scatter_is_that_of_the_sessions() -> None:
    chance = random.Random(5)
    many = [session(n, 160.0 + chance.gauss(0.0, 1.3)) for n in range(2000)]
    (trend,) = trends(many, ())
    assert between_sessions(trend.levels) == pytest.approx(1.3, rel=0.1)
    jump = [session(n, 160.0 + 8.0 * (n > 1000) + chance.gauss(0.0, 1.3)) for n in range(2000)]
    (trend,) = trends(jump, ())
    assert between_sessions(trend.levels) == pytest.approx(1.3, rel=0.1)
