"""Targets from the baseline: right size, within every limit, and refused with a reason."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.cueing.cues import beats
from feedback.safety.rules import too_much
from feedback.training.goals import (
    CADENCE_RAMP_MOST_PERCENT,
    as_athlete,
    check_goal,
    goals_for,
)
from shared.flow import Side, View
from shared.problems import UserError
from shared.targets import Aim, CueStyle, Goal, Hold, Limits, Target
from tests.feedback.training.making import (
    NO_LIMITS,
    baseline,
    bundled_drill,
    cadence_aim,
    drill,
    own,
    prescription,
    strike_aim,
)


def goal_of(
    aim: Aim, *measures: object, limits: Limits = NO_LIMITS, change: float | None = None
) -> Goal:
    base = baseline(*measures)  # type: ignore[arg-type]
    changes = {} if change is None else {aim.name: change}
    (goal,) = goals_for(base, drill(aim), limits, changes)
    return goal


def cadence(sd: float = 1.2, mean: float = 160.0) -> object:
    return own("cadence", None, "steps/min", mean, sd)


def test_five_percent_by_two_steps_to_a_beat() -> None:
    goal = goal_of(cadence_aim())
    assert goal.own == 160.0
    assert goal.aimed == (164.0, 168.0)
    first, last = goal.targets
    assert (last.low, last.high, last.beat_spm) == (162.9, 173.1, 168.0)  # 168 -+ 3 %
    assert (first.low, first.high, first.beat_spm) == (161.5, 166.5, 164.0)  # half the change
    assert all(beats(target) for target in goal.targets)


# In % of the own (Heiderscheit et al. 2011; Willy et al. 2016).
@pytest.mark.parametrize("percent", [5.0, 7.5, 10.0])
def test_the_usual_choices(percent: float) -> None:
    goal = goal_of(cadence_aim(), change=percent)
    assert goal.aimed[-1] == pytest.approx(160.0 * (1 + percent / 100), abs=0.1)
    assert len(goal.aimed) == {5.0: 2, 7.5: 3, 10.0: 4}[percent]


def test_never_more_than_ten_percent_or_the_athletes_own_limit() -> None:
    with pytest.raises(UserError, match="at most 10 % at a time"):
        goal_of(cadence_aim(change_percent=10.1))
    with pytest.raises(UserError, match="at most 4 % at a time"):
        goal_of(cadence_aim(), limits=Limits(cadence_most_percent=4))


def test_a_change_against_the_own_value_by_side() -> None:
    both = goal_of(strike_aim())
    assert both.own == 27.0
    assert both.aimed == (23.0,)  # 22.95, rounded toward the own value
    assert (both.targets[0].low, both.targets[0].high) == (None, 24.5)  # one step SD over it
    left = goal_of(strike_aim(side=Side.LEFT))
    assert (left.own, left.targets[0].side) == (26.0, Side.LEFT)
    by_cm = goal_of(strike_aim(change_percent=None, change=-4.0))
    assert by_cm.aimed == (23.0,)
    more = goal_of(strike_aim(change_percent=15.0, hold=Hold.OVER))
    assert (more.targets[0].low, more.targets[0].high) == (29.5, None)


def test_a_ramp_for_other_measures_where_it_is_asked_for() -> None:
    goal = goal_of(strike_aim(ramp_step_percent=5.0))
    assert goal.aimed == (25.7, 24.3, 23.0)


def test_a_fixed_band_is_the_same_for_every_runner() -> None:
    arms = bundled_drill("straight_arms")
    base = baseline(*(own("arm_crossing", side, "cm", 6.0, 1.0) for side in Side), view=View.FRONT)
    left, right = goals_for(base, arms, NO_LIMITS)
    assert (left.targets[0].high, left.targets[0].low, left.aimed) == (0.0, None, ())
    assert (left.targets[0].side, right.targets[0].side) == (Side.LEFT, Side.RIGHT)


def test_the_band_is_never_under_twice_the_step_sd() -> None:
    goal = goal_of(cadence_aim(), cadence(sd=6.0))
    assert goal.targets[-1].high - goal.targets[-1].low >= 12.0  # type: ignore[operator]
    aim = strike_aim(change_percent=None, low=20.0, high=22.9, hold=Hold.NEAR)
    with pytest.raises(UserError, match=r"2.9 cm wide; .* must be at least 3.0"):
        goal_of(aim)


REFUSED = [
    (cadence_aim(), cadence(sd=9.0), "a band wide enough for them includes the runner's own value"),
    (cadence_aim(change_percent=0.1), cadence(), "is too small to measure: noise is up to 0.4"),
    (cadence_aim(), own("trunk_lean", None, "deg", 8, 1), "has no cadence in steps/min"),
    (strike_aim(), own("strike_ahead", None, "cm", -2, 1), "so a percentage has no meaning"),
    (strike_aim(change_percent=-60), own("strike_ahead", None, "cm", 59, 40), "outside what"),
    (cadence_aim(), cadence(mean=115.0), "beat of 117.8 steps/min is outside 120 to 220"),
    (cadence_aim(measure="pelvic_shift"), cadence(), "cannot be measured here: not from this view"),
]  # fmt: skip


@pytest.mark.parametrize(("aim", "measure", "why"), REFUSED)
def test_what_cannot_be_set_is_refused_with_the_reason(aim: Aim, measure: object, why: str) -> None:
    with pytest.raises(UserError) as caught:
        goal_of(aim, measure)
    problem = caught.value.problem
    assert problem.code == "goal_refused"
    assert f'The aim "{aim.name}" cannot be set for this runner: ' in problem.title
    assert why in problem.title
    assert problem.action


@settings(deadline=None, max_examples=60)
@given(
    mean=st.floats(125.0, 205.0),
    sd=st.floats(0.1, 8.0),
    percent=st.floats(-10.0, 12.0),
    step=st.floats(0.5, 3.0),
    tolerance=st.floats(0.5, 10.0),
    most=st.floats(1.0, 10.0),
)
def test_every_cadence_target_keeps_every_limit(
    mean: float, sd: float, percent: float, step: float, tolerance: float, most: float
) -> None:
    aim = cadence_aim(change_percent=percent, ramp_step_percent=step, tolerance_percent=tolerance)
    limits = Limits(cadence_most_percent=most)
    try:
        goal = goal_of(aim, cadence(sd, mean), limits=limits)
    except UserError:
        return  # which ones, and why, is tested above
    before: Target | None = None
    value = mean
    for aimed, target in zip(goal.aimed, goal.targets, strict=True):
        assert target.beat_spm == aimed <= mean * (1 + most / 100) + 1e-9
        assert abs(aimed - value) <= mean * CADENCE_RAMP_MOST_PERCENT / 100 + 1e-9
        assert target.low is not None
        assert target.high is not None
        assert target.high - target.low >= 2 * sd - 1e-9
        assert target.low < aimed < target.high
        assert target.hysteresis < (target.high - target.low) / 2
        assert too_much(target, limits, mean, before) is None
        before, value = target, aimed
    assert abs(goal.aimed[-1] - mean * (1 + percent / 100)) <= 0.11
    last = goal.targets[-1]
    assert last.low is not None
    assert last.high is not None
    assert not last.low <= mean <= last.high  # a runner who changes nothing is told
    check_goal(goal, limits)


def test_a_goal_from_a_file_is_held_to_the_limits_again() -> None:
    goal = goal_of(cadence_aim())

    def changed(**fields: object) -> Goal:
        return msgspec.structs.replace(goal, **fields)

    last = goal.targets[-1]
    fast = msgspec.structs.replace(last, beat_spm=190.0, high=200.0)
    narrow = msgspec.structs.replace(last, low=167.0, high=169.0)
    other = msgspec.structs.replace(last, measure="strike_ahead")
    for wrong, why in [
        (changed(targets=(goal.targets[0], fast)), "at most 10 % over"),
        (changed(aimed=(170.0, 190.0)), "at most 10 % over|larger than 3 %"),
        (changed(aimed=(160.0, 168.0)), "larger than 3 %"),
        (changed(targets=(goal.targets[0], narrow)), "narrower than two step SDs"),
        (changed(targets=(goal.targets[0], other)), "different measures"),
        (changed(targets=()), "do not match"),
        (changed(aimed=(168.0,)), "do not match"),
    ]:
        with pytest.raises(UserError, match=why):
            check_goal(wrong, NO_LIMITS)
    one_sided = goal_of(strike_aim())
    near = msgspec.structs.replace(one_sided.targets[0], high=23.5)
    with pytest.raises(UserError, match="narrower"):
        check_goal(msgspec.structs.replace(one_sided, targets=(near,)), NO_LIMITS)


def test_a_band_of_two_edges_is_as_wide_as_a_value_is_sure() -> None:
    """A knee told to 9 degrees either way cannot be held between two edges 10 degrees apart."""
    knee = msgspec.structs.replace(
        own("knee_flexion_peak", None, "deg", 40.0, 2.0), uncertainty=9.0
    )
    between = Aim(name="knee", measure="knee_flexion_peak", unit="deg", low=45.0, high=55.0)
    with pytest.raises(UserError, match=r"only accurate to ± 9\.0 deg"):
        goal_of(between, knee)
    assert goal_of(msgspec.structs.replace(between, high=63.5), knee).targets[0].high == 63.5
    assert goal_of(msgspec.structs.replace(between, high=None), knee).targets[0].low == 45.0


def test_the_drills_that_come_with_it_suit_the_athletes_that_come_with_it() -> None:
    behind = baseline(own("pelvic_shift", Side.RIGHT, "cm", 3.0, 0.4), view=View.BEHIND)
    front = baseline(*(own("arm_crossing", side, "cm", 6.0, 1.0) for side in Side), view=View.FRONT)
    for name in ("quick_steps", "land_under", "steps_and_landing"):
        assert goals_for(baseline(), bundled_drill(name), NO_LIMITS)
    assert goals_for(behind, bundled_drill("level_hips"), NO_LIMITS)
    assert goals_for(front, bundled_drill("straight_arms"), NO_LIMITS)


def test_a_prescriptions_runner_has_the_final_targets_and_the_own_cadence() -> None:
    made = prescription(drill(cadence_aim(), strike_aim(cues=(CueStyle.SPOKEN,))))
    runner = as_athlete(made)
    assert runner.baseline_cadence_spm == 160.0
    assert runner.targets == tuple(goal.targets[-1] for goal in made.goals)
    assert runner.limits == made.limits
