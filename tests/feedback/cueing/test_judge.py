"""The judge: averaging, band edges with hysteresis, and what it refuses to use."""

from __future__ import annotations

import math
from statistics import fmean

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from feedback.cueing.judge import Judge
from shared.flow import BandState, Measure, Side
from shared.usable import usable
from tests.feedback.making import S, cadence, cadence_target, measure, strike_target


def states(judge: Judge, measures: list[Measure]) -> list[BandState | None]:
    verdicts = [judge.update(one) for one in measures]
    return [None if verdict is None else verdict.state for verdict in verdicts]


def test_says_nothing_before_four_steps_stand_behind_it() -> None:
    judge = Judge(strike_target(average_steps=8))
    unknown = BandState.UNKNOWN
    expected = [unknown, unknown, unknown, BandState.ABOVE]
    assert states(judge, [measure(i, 20.0) for i in range(4)]) == expected


def test_a_window_shorter_than_four_steps_needs_only_its_own_length() -> None:
    judge = Judge(strike_target(average_steps=2))
    assert states(judge, [measure(0, 20.0), measure(1, 20.0)])[-1] is BandState.ABOVE


def test_judges_the_mean_of_the_last_steps_of_both_sides() -> None:
    judge = Judge(strike_target(average_steps=4))
    for step, value in enumerate([100.0 / 3, 8.0, 12.0, 16.0, 20.0]):
        verdict = judge.update(measure(step, value))
    assert verdict is not None
    assert verdict.value == pytest.approx(14.0)
    assert verdict.error == pytest.approx(2.0)
    assert (verdict.steps, verdict.step_number, verdict.side) == (4, 4, None)
    assert verdict.captured_ns == measure(4, 0).captured_ns


def test_a_target_with_a_side_sees_that_side_only() -> None:
    judge = Judge(strike_target(side=Side.RIGHT))
    values = [measure(i, 20.0 if i % 2 else 5.0) for i in range(8)]
    verdicts = [judge.update(one) for one in values]
    assert [verdict is None for verdict in verdicts] == [True, False] * 4
    last = verdicts[-1]
    assert last is not None
    assert (last.value, last.side, last.steps) == (20.0, Side.RIGHT, 4)


def test_passes_over_other_measures() -> None:
    assert Judge(strike_target()).update(cadence(0, 160.0)) is None


def test_an_average_stands_for_itself() -> None:
    judge = Judge(cadence_target(average_steps=4))
    judge.update(cadence(10, 150.0))
    verdict = judge.update(cadence(11, 168.0))
    assert verdict is not None
    assert (verdict.value, verdict.state, verdict.steps) == (168.0, BandState.INSIDE, 8)


def test_an_average_of_too_few_steps_is_not_judged() -> None:
    judge = Judge(cadence_target())
    grown = [cadence(i, 150.0, steps=i) for i in range(2, 6)]
    unknown, below = BandState.UNKNOWN, BandState.BELOW
    assert states(judge, grown) == [unknown, unknown, below, below]


def test_single_steps_after_an_average_do_not_mix_with_it() -> None:
    judge = Judge(cadence_target(average_steps=4))
    judge.update(cadence(10, 150.0))
    verdict = judge.update(cadence(11, 170.0, steps=1))
    assert verdict is not None
    assert (verdict.value, verdict.state) == (170.0, BandState.BELOW)
    assert verdict.steps == 1


def test_leaves_the_band_at_its_edge_and_comes_back_further_in() -> None:
    judge = Judge(cadence_target())
    path = [163.0, 162.9, 163.0, 163.9, 164.0, 163.0, 173.0, 173.1, 172.1, 172.0, 150.0]
    inside, below, above = BandState.INSIDE, BandState.BELOW, BandState.ABOVE
    assert states(judge, [cadence(i, value) for i, value in enumerate(path)]) == [
        inside, below, below, below, inside, inside, inside, above, above, inside, below,
    ]  # fmt: skip


def test_crosses_from_one_side_of_the_band_to_the_other() -> None:
    judge = Judge(cadence_target())
    assert states(judge, [cadence(0, 150.0), cadence(1, 180.0), cadence(2, 150.0)]) == [
        BandState.BELOW,
        BandState.ABOVE,
        BandState.BELOW,
    ]


def test_a_band_may_have_one_edge() -> None:
    low_only = Judge(cadence_target(high=None))
    high_only = Judge(cadence_target(low=None))
    assert states(low_only, [cadence(0, 239.0), cadence(1, 120.0)]) == ["inside", "below"]
    assert states(high_only, [cadence(0, 120.0), cadence(1, 239.0)]) == ["inside", "above"]


@pytest.mark.parametrize(
    "changes",
    [
        {"value": math.nan},
        {"value": math.inf},
        {"value": 61.0},
        {"value": -11.0},
        {"quality": 0.49},
        {"quality": math.nan},
        {"unit": "deg"},
    ],
)
def test_what_is_not_a_good_value_is_not_used(changes: dict[str, object]) -> None:
    judge = Judge(strike_target())
    for step in range(4):
        judge.update(measure(step, 10.0))
    assert judge.update(replace(measure(4, 10.0), **changes)) is None
    verdict = judge.update(measure(5, 10.0))
    assert verdict is not None
    assert (verdict.value, verdict.state) == (10.0, BandState.INSIDE)


def test_a_length_is_judged_in_percent_of_leg_when_the_target_says_so() -> None:
    judge = Judge(strike_target(unit="% leg"))
    for step in range(4):
        verdict = judge.update(measure(step, 10.0, percent_leg=12.5))
    assert verdict is not None
    assert (verdict.value, verdict.unit, verdict.state) == (12.5, "% leg", BandState.ABOVE)
    assert judge.update(measure(4, 10.0)) is None


def test_plausible_range_widens_where_the_leg_length_is_not_known() -> None:
    assert usable(measure(0, 90.0, unit="% leg"))
    assert not usable(measure(0, 101.0, unit="% leg"))
    # A 1 cm rise of the tallest runner is under 1 % of the leg.
    rise = {"name": "vertical_excursion", "side": None, "unit": "% leg"}
    assert usable(measure(0, 0.9, **rise))
    assert not usable(measure(0, 0.5, **rise))


def test_a_side_may_miss_one_landing_but_not_two() -> None:
    kept, lost = Judge(strike_target(side=Side.LEFT)), Judge(strike_target(side=Side.LEFT))
    for step in (0, 2, 4, 6):
        kept.update(measure(step, 20.0))
        lost.update(measure(step, 20.0))
    assert states(kept, [measure(10, 20.0)]) == [BandState.ABOVE]
    assert states(lost, [measure(12, 20.0)]) == [BandState.UNKNOWN]


def test_a_gap_in_step_numbers_begins_anew_however_short_it_was() -> None:
    for gap, state in ((4, BandState.ABOVE), (5, BandState.UNKNOWN)):
        judge = Judge(strike_target())
        for step in range(4):
            judge.update(measure(step, 20.0))
        soon_ns = measure(4, 0).at_ns
        assert states(judge, [measure(3 + gap, 20.0, at_ns=soon_ns)]) == [state]


def test_two_seconds_without_a_step_begin_anew() -> None:
    judge = Judge(strike_target())
    for step in range(4):
        judge.update(measure(step, 20.0))
    last_ns = measure(3, 0).at_ns
    newest = judge.newest
    assert newest is not None
    assert not judge.expire(last_ns + 2 * S)
    assert judge.newest == newest
    assert judge.expire(last_ns + 2 * S + 1)
    assert judge.newest != newest
    assert states(judge, [measure(4, 20.0)]) == [BandState.UNKNOWN]


def test_values_of_low_quality_do_not_keep_an_old_window_alive() -> None:
    judge = Judge(strike_target())
    for step in range(4):
        judge.update(measure(step, 20.0))
    for step in range(4, 12):
        judge.update(measure(step, 20.0, quality=0.1))
    assert judge.newest is None
    assert states(judge, [measure(12, 20.0)]) == [BandState.UNKNOWN]


def test_step_numbers_that_run_backwards_begin_anew() -> None:
    judge = Judge(strike_target())
    for step in range(10, 14):
        judge.update(measure(step, 20.0))
    assert states(judge, [measure(3, 20.0)]) == [BandState.UNKNOWN]


def test_reset_forgets_the_state_as_well() -> None:
    judge = Judge(cadence_target())
    judge.update(cadence(0, 150.0))
    judge.reset()
    # In the hysteresis zone: inside unless the judge still thinks that it was below.
    assert states(judge, [cadence(1, 163.5)]) == [BandState.INSIDE]


VALUES = st.floats(allow_nan=True, allow_infinity=True) | st.floats(-15.0, 65.0)
STEPS = st.lists(
    st.tuples(VALUES, st.floats(0.0, 1.0) | st.just(math.nan), st.integers(0, 3)), max_size=60
)


@given(STEPS, st.integers(1, 12), st.sampled_from([None, Side.LEFT, Side.RIGHT]))
def test_agrees_with_a_plain_reading_of_the_rule(
    history: list[tuple[float, float, int]], average: int, side: Side | None
) -> None:
    """The window is the last usable steps of the side, unbroken by a gap."""
    target = strike_target(average_steps=average, side=side, hysteresis=0.0)
    judge = Judge(target)
    good: list[tuple[int, float]] = []
    step = 0
    for value, quality, skipped in history:
        step += 1 + skipped
        one = measure(step, value, quality=quality)
        verdict = judge.update(one)
        if side is not None and one.side is not side:
            assert verdict is None
            continue
        if good and step - good[-1][0] > 4:
            good.clear()
        if not (math.isfinite(value) and -10.0 <= value <= 60.0 and quality >= 0.5):
            assert verdict is None
            continue
        good.append((step, value))
        mean = fmean(value for _, value in good[-average:])
        assert verdict is not None
        assert verdict.value == pytest.approx(mean, abs=1e-9)
        if len(good) < min(average, 4):
            assert verdict.state is BandState.UNKNOWN
        elif abs(mean - 12.0) > 1e-9:
            assert verdict.state is (BandState.ABOVE if mean > 12.0 else BandState.INSIDE)
            assert verdict.error == pytest.approx(max(0.0, mean - 12.0), abs=1e-9)
