"""The baseline: enough steady steps, honest noise, refusal with a reason, stored for its owner."""

from __future__ import annotations

import stat
from pathlib import Path

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.athlete_files import baselines
from feedback.athlete_files.baselines import newest_baseline, read_baseline, save_baseline
from feedback.safety.rules import By
from feedback.session.interface import Facts, GoOn, Pause, Start
from feedback.session.session import Session
from feedback.storage import folders as shelf
from feedback.training.baseline import (
    BaselineRun,
    BaselineState,
    BaselineTaker,
    side_differences,
)
from shared.change import least_change
from shared.flow import Side, View
from shared.problems import PROBLEMS, UserError
from shared.targets import Athlete
from tests.feedback.making import athlete
from tests.feedback.training.making import baseline, own, steps
from tests.plain_errors import error_of

S = 1_000_000_000


def taken(updates: list, wanted: int = 60) -> BaselineTaker:  # type: ignore[type-arg]
    taker = BaselineTaker(wanted)
    for update in updates:
        taker.take(update, update.captured_ns - updates[0].captured_ns)
    return taker


@pytest.mark.parametrize("paused_s", [310, 4_000])
def test_a_pause_does_not_count_toward_the_five_minutes(paused_s: int) -> None:
    course = BaselineRun(60, 9.0)
    session = Session(athlete(), View.SIDE, course=course)
    session.on_tick(0, Facts())
    session.on_command(Start(), 0)
    updates = steps(61)
    for update in updates[:20]:
        session.on_update(update, update.captured_ns)
    paused_ns = updates[19].captured_ns
    session.on_command(Pause(by=By.STATION, source="test"), paused_ns)
    later_ns = paused_s * S
    session.on_command(GoOn(by=By.STATION, source="test"), paused_ns + later_ns)
    for one in updates[20:]:
        at_ns = one.captured_ns + later_ns
        late = msgspec.structs.replace(
            one,
            captured_ns=at_ns,
            measures=tuple(
                msgspec.structs.replace(m, captured_ns=at_ns, at_ns=m.at_ns + later_ns)
                for m in one.measures
            ),
        )
        session.on_update(late, at_ns)
    assert (course.taker.state, course.taker.refusal) == (BaselineState.DONE, "")


def test_without_enough_steps_it_ends_after_five_minutes_of_running() -> None:
    course = BaselineRun(60, 9.0)
    (one,) = steps(1)
    for run_s in (0, 299, 301):
        course.advance(run_s * S, 0)
        course.on_update(one)
        expected = BaselineState.REFUSED if run_s > 300 else BaselineState.TAKING
        assert course.taker.state is expected


def test_sixty_steady_steps_are_enough() -> None:
    taker = taken(steps(59))
    assert taker.state is BaselineState.TAKING
    taker = taken(steps(80))
    assert taker.state is BaselineState.DONE
    assert taker.steps == 60
    found = {(one.name, one.side, one.unit): one for one in taker.measures()}
    assert set(found) == {
        ("cadence", None, "steps/min"),
        *{("strike_ahead", side, unit) for side in (None, *Side) for unit in ("cm", "% leg")},
    }
    cadence = found["cadence", None, "steps/min"]
    assert cadence.mean == pytest.approx(160.0, abs=0.8)
    assert cadence.values == 60
    left, right, both = (found["strike_ahead", s, "cm"] for s in (Side.LEFT, Side.RIGHT, None))
    assert (left.values, right.values, both.values) == (30, 30, 60)
    assert left.mean == pytest.approx(26.0, abs=0.6)
    assert both.mean == pytest.approx((left.mean + right.mean) / 2)
    assert left.sd == pytest.approx(1.0, abs=0.3)


def test_the_sides_difference_is_told_beyond_noise_and_the_measures_own_error() -> None:
    differences = side_differences(taken(steps(60)).measures())
    (one,) = (d for d in differences if d.unit == "cm")
    assert one.difference == pytest.approx(2.0, abs=0.7)
    for apart, sd, uncertainty, told in (
        (0.1, 1.0, 0.1, False),
        (1.0, 1.0, 0.1, True),
        (1.0, 1.0, 1.0, False),
        (1.0, 5.0, 0.1, False),
        (2.0, 1.0, 1.0, True),
    ):
        pair = [
            msgspec.structs.replace(own("x", side, "cm", mean, sd), uncertainty=uncertainty)
            for side, mean in ((Side.LEFT, 5.0), (Side.RIGHT, 5.0 + apart))
        ]
        assert side_differences(pair)[0].told is told


def test_least_change_is_that_between_two_such_baselines() -> None:
    for one in taken(steps(60)).measures():
        assert one.freedom is not None
        assert one.least_change == pytest.approx(least_change(one.error, one.error))
        # 1.96 * sqrt(2) * SEM (Weir 2005, from memory) is what it comes to with many steps.
        assert one.least_change > 1.96 * 2**0.5 * one.sem


def test_the_standard_error_sees_that_steps_resemble_their_neighbours() -> None:
    """First-order autoregressive noise: the mean varies by sqrt((1+r)/(1-r)) more (textbook)."""
    chance = np.random.default_rng(3)
    found = []
    for _ in range(200):
        values = [0.0]
        for shock in chance.normal(0.0, 1.0, 240):
            values.append(0.7 * values[-1] + shock)
        error = error_of(values[1:])
        assert error is not None
        found.append(error.sem)
    true = (1 / (1 - 0.7**2)) ** 0.5 * ((1 + 0.7) / (1 - 0.7)) ** 0.5 / 240**0.5
    naive = (1 / (1 - 0.7**2)) ** 0.5 / 240**0.5
    assert np.median(found) == pytest.approx(true, rel=0.25)
    assert np.median(found) > 1.7 * naive


def test_two_baselines_of_the_same_runner_seldom_differ_by_the_least_change() -> None:
    """What the least change promises: by chance alone it is passed in about one case of twenty."""
    over = 0
    for seed in range(120):
        first, second = (taken(steps(60, seed=2 * seed + k)).measures() for k in (0, 1))
        key = ("strike_ahead", Side.LEFT, "cm")
        one, two = (
            next(m for m in ms if (m.name, m.side, m.unit) == key) for ms in (first, second)
        )
        over += abs(one.mean - two.mean) > one.least_change
    assert over <= 15


def test_a_drifting_cadence_is_waited_for_and_refused_in_the_end() -> None:
    drifting = [u for n in range(24) for u in steps(10, spm=150.0 + n, first=1 + 10 * n, seed=n)]
    taker = taken(drifting)
    assert taker.state is BaselineState.REFUSED
    assert taker.refusal == "baseline_unsteady"
    # drifting first and steady then: the steady stretch is taken
    settled = drifting[:60] + steps(80, spm=170.0, first=61)
    taker = taken(settled)
    assert taker.state is BaselineState.DONE
    (cadence,) = (m for m in taker.measures() if m.name == "cadence")
    assert cadence.mean == pytest.approx(170.0, abs=2.0)


def test_low_quality_is_refused_with_its_reason() -> None:
    assert taken(steps(300, quality=0.2)).refusal == "baseline_quality"
    doubted = tuple(range(1, 300, 3))
    assert taken(steps(300, doubted=doubted)).refusal == "baseline_quality"
    assert taken(steps(2000, doubted=tuple(range(2001)))).refusal == "baseline_quality"
    for code in ("baseline_quality", "baseline_unsteady"):
        assert code in PROBLEMS


def test_doubted_steps_do_not_count() -> None:
    taker = taken(steps(66, doubted=(10, 11, 12, 13, 14)))
    assert taker.state is BaselineState.DONE
    assert all(m.values <= 60 for m in taker.measures())
    assert taken(steps(62, doubted=(10, 11, 12, 13, 14))).state is BaselineState.TAKING


@settings(deadline=None, max_examples=60)
@given(
    spread=st.floats(0.0, 0.2),
    spm=st.floats(120, 220),
    seed=st.integers(0, 5),
    quality=st.sampled_from([0.2, 0.9, float("nan")]),
)
def test_whatever_comes_it_ends_with_figures_or_a_reason(
    spread: float, spm: float, seed: int, quality: float
) -> None:
    taker = taken(steps(260, spm=spm, spread=spread, seed=seed, quality=quality))
    assert taker.state is not BaselineState.TAKING
    assert (taker.refusal != "") == (taker.state is BaselineState.REFUSED)
    if taker.state is BaselineState.DONE:
        assert all(np.isfinite([m.mean, m.sd, m.sem]).all() for m in taker.measures())


def test_as_a_course_it_cues_nothing_and_ends_by_itself() -> None:
    run = BaselineRun(60, 10.1)
    for number, update in enumerate(steps(70)):
        due = run.advance(number * S, number)
        assert due.targets == ()
        assert due.focus is None
        assert due.over == (number >= 60)
        if not due.over:
            assert due.block.remaining_steps == 60 - number
        run.on_update(update)


# kept


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    for module in (baselines, shelf):
        monkeypatch.setattr(module, "own_folder", lambda one: tmp_path / one.value)
    return tmp_path


def test_it_is_stored_for_its_owner_only_and_read_back(data: Path) -> None:
    path = save_baseline(baseline())
    assert read_baseline(path) == baseline()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


HERON, PLOVER = (
    Athlete(code_name=name, height_cm=166.0, targets=(), view=View.SIDE)
    for name in ("Heron", "Plover")
)


def test_the_newest_that_fits_runner_view_and_speed_is_found(data: Path) -> None:
    old = baseline(taken_utc="2026-01-01T10:00:00+00:00")
    new = baseline(taken_utc="2026-02-01T10:00:00+00:00", steps=61)
    others = [
        baseline(code_name="Dipper"),
        baseline(view=View.BEHIND),
        baseline(belt_speed_kmh=12.0, taken_utc="2026-03-01T10:00:00+00:00"),
    ]
    for one in (new, old, *others):
        save_baseline(one)
    assert newest_baseline(HERON, View.SIDE, 10.1) == new
    assert newest_baseline(HERON, View.SIDE, 10.0) == new  # belts show tenths
    with pytest.raises(UserError, match=r"no baseline for Heron from side at 11 km/h"):
        newest_baseline(HERON, View.SIDE, 11.0)
    with pytest.raises(UserError, match="no baseline for Plover"):
        newest_baseline(PLOVER, View.SIDE, 10.1)


def test_a_broken_file_is_named(data: Path) -> None:
    path = data / "baselines" / "heron-side-x.json"
    path.parent.mkdir()
    path.write_text('{"format": 2}')
    with pytest.raises(UserError, match=r"heron-side-x.json cannot be read \(it is not a baseline"):
        newest_baseline(HERON, View.SIDE, 10.1)
