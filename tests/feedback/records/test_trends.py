"""What counts as change: beyond the steps' noise and the scatter between sessions."""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import Any

import msgspec
import numpy as np
import pytest

from feedback.records.comparing import Since
from feedback.records.summary import Digest
from feedback.records.trends import Level, Scatter, between_sessions, trends
from feedback.training.counting import SessionPart
from shared.change import Error, least_change
from tests.feedback.records.made_up import cadence, made_up
from tests.feedback.training.making import baseline


def session(number: int, value: float, sem: float | None = 0.3) -> Digest:
    return made_up(number, number=number, means=(cadence(value, sem),))


def test_noise_of_two_sessions_is_that_of_their_steps() -> None:
    (trend,) = trends([session(1, 160.0), session(2, 161.0)])
    assert trend.verdict is not None
    assert trend.verdict.noise == pytest.approx(least_change(Error(0.3, 40.0), Error(0.3, 40.0)))
    assert trend.verdict.noise == pytest.approx(1.96 * 2**0.5 * 0.3, rel=0.03)
    assert trend.verdict.real
    assert not trend.verdict.between


def test_scatter_between_sessions_adds_to_noise() -> None:
    values = [160.0, 163.0, 159.0, 162.5, 161.0]
    (trend,) = trends([session(n, value) for n, value in enumerate(values)])
    assert trend.verdict is not None
    assert trend.verdict.between
    assert not trend.verdict.real


def test_without_uncertainty_nothing_is_called_real() -> None:
    # Two home results: their files hold no spread.
    (trend,) = trends([session(1, 160.0, None), session(2, 175.0, None)])
    assert trend.verdict is not None
    assert trend.verdict.noise is None
    assert not trend.verdict.real


def test_one_session_has_nothing_to_compare_with() -> None:
    (trend,) = trends([session(1, 160.0)])
    assert trend.verdict is None


@pytest.mark.parametrize("sessions", [4, 5, 6, 8, 12])
def test_chance_alone_passes_in_4_to_6_percent_where_sessions_differ(sessions: int) -> None:
    """Against a baseline that differs as the sessions do, far more than the steps' own noise."""
    chance = np.random.default_rng(sessions)
    histories = 8000
    drawn = chance.normal(160.0, 1.0, (histories, sessions + 1))
    least = np.array([scatter_of(row).least_change for row in drawn[:, 1:].tolist()])
    assert 0.04 <= np.mean(np.abs(drawn[:, -1] - drawn[:, 0]) > least) <= 0.06


def scatter_of(values: Sequence[float]) -> Scatter:
    scatter = between_sessions([Level(**level(n, value)) for n, value in enumerate(values)])
    assert scatter is not None
    return scatter


def level(number: int, value: float) -> dict[str, Any]:
    one = session(number, value)
    fields = {name: getattr(one, name) for name in ("uid", "started_utc", "kind", "number")}
    return {**fields, "uncued": one.means[0]}


def test_a_change_that_lasts_is_still_real_among_scattered_sessions() -> None:
    """The usual prescription, 5 % of the cadence, where sessions differ by 1 step/min (SD)."""
    chance = random.Random(4)
    found = 0
    for _ in range(200):
        month = [session(n, 160.0 + 8.0 * (n > 5) + chance.gauss(0.0, 1.0)) for n in range(12)]
        (trend,) = trends(month)
        assert trend.verdict is not None
        found += trend.verdict.real
    assert found > 0.9 * 200


def test_the_baseline_is_compared_with_wherever_it_has_the_measure() -> None:
    cued = made_up(1, means=(cadence(158.0, part=SessionPart.CUED),))
    known = msgspec.structs.replace(session(2, 164.0), own=baseline())
    (trend,) = trends([cued, known])
    assert trend.reference is not None
    assert (trend.reference.value, trend.reference.since) == (160.0, Since.BASELINE)
    # Without one it is said which steps stand in, and steps with cues never do for those without.
    (trend,) = trends([cued, session(2, 164.0)])
    assert trend.reference is None
    (trend,) = trends([session(0, 159.0), cued, session(2, 164.0)])
    assert trend.reference is not None
    assert trend.reference.since is Since.FIRST_UNCUED


def test_the_scatter_is_that_of_the_sessions() -> None:
    chance = random.Random(5)
    many = [session(n, 160.0 + chance.gauss(0.0, 1.3)) for n in range(2000)]
    scatter = scatter_of([one.means[0].mean for one in many])
    assert scatter.sd == pytest.approx(1.3, rel=0.1)
    jump = [session(n, 160.0 + 8.0 * (n > 1000) + chance.gauss(0.0, 1.3)) for n in range(2000)]
    scatter = scatter_of([one.means[0].mean for one in jump])
    assert scatter.sd == pytest.approx(1.3, rel=0.1)
