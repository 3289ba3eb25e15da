"""What must hold between speed, step length, cadence and times; and published ranges.

The virtual runner goes through the whole live core, seen from the side unless said otherwise.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from live.pipeline import Pipeline, Setup
from shared.flow import Measure, Side, View
from tests.live.virtual_runner import take
from tests.rendered.params import RunnerParams, both

HEIGHT_M = 1.66


@cache
def measured(
    params: RunnerParams, view: View = View.SIDE, duration_s: float = 12.0
) -> dict[tuple[str, Side | None], Measure]:
    """The means of a run by measure and side."""
    pipeline = Pipeline(Setup(view, HEIGHT_M, params.belt_speed_mps))
    for pose in take(params, view, duration_s).poses:
        pipeline.update(pose)
    return {(measure.name, measure.side): measure for measure in pipeline.summary()}


def value(params: RunnerParams, name: str) -> float:
    """Mean of a measure, of both sides where it has sides."""
    found = measured(params)
    return float(np.mean([measure.value for (of, _), measure in found.items() if of == name]))


def even_runner(speed_mps: float, cadence_spm: float, contact_ms: float) -> RunnerParams:
    return RunnerParams(
        start_s=0.0,
        belt_speed_mps=speed_mps,
        cadence_spm=cadence_spm,
        contact_time_ms=both(contact_ms),
        step_time_sd_pct=0.0,
    )


@pytest.mark.parametrize(
    ("speed_mps", "cadence_spm", "step_cm", "contact_ms"),
    [
        # By hand from speed = step length x cadence / 60; the contact times are free.
        (3.00, 170.0, 105.88, 250.0),
        (3.33, 165.0, 121.09, 230.0),
        (3.33, 174.9, 114.24, 230.0),
    ],
)
def test_step_length_worked_examples(
    speed_mps: float, cadence_spm: float, step_cm: float, contact_ms: float
) -> None:
    runner = even_runner(speed_mps, cadence_spm, contact_ms)
    cadence, step_length = value(runner, "cadence"), value(runner, "step_length")
    assert cadence == pytest.approx(cadence_spm, abs=0.5)
    assert step_length == pytest.approx(step_cm, rel=0.01)
    assert step_length / 100 * cadence / 60 == pytest.approx(speed_mps, rel=0.005)


def test_six_percent_more_steps_are_not_six_percent_shorter_ones() -> None:
    """At one speed: 1 / 1.06, so 5.66 % shorter (by hand)."""
    before, after = (even_runner(3.33, cadence, 230.0) for cadence in (165.0, 174.9))
    change = value(after, "step_length") / value(before, "step_length") - 1.0
    assert 100.0 * change == pytest.approx(-5.66, abs=0.5)


def test_contact_and_flight_worked_example() -> None:
    """Contact 250 ms and flight 100 ms: step 350 ms, 171.43 steps/min, duty factor 35.71 %.

    By hand. Contact may be off by 25 ms: Fellin et al. 2010 find that much for contact alone
    with markers in a laboratory.
    """
    runner = even_runner(3.0, 120.0 / 0.7, 250.0)
    contact, flight = value(runner, "contact_time"), value(runner, "flight_time")
    step_ms = 60e3 / value(runner, "cadence")
    assert step_ms == pytest.approx(350.0, abs=1.0)
    assert contact == pytest.approx(250.0, abs=25.0)
    assert flight == pytest.approx(100.0, abs=25.0)
    assert contact + flight == pytest.approx(step_ms, abs=4.0)
    assert value(runner, "duty_factor") == pytest.approx(35.71, abs=100 * 25.0 / 700)
    assert value(runner, "duty_factor") == pytest.approx(100 * contact / (2 * step_ms), abs=0.5)


def test_a_row_of_a_published_table() -> None:
    """Young runners, Karamanidis and Arampatzis 2005 (Table 4 of J Exp Biol; paper's name from
    memory): contact 271 ms, flight 112 (19) ms, step 99.5 (3.0) cm, 1.31 (0.08) strides/s, duty
    factor 35.5 (2.3) %; together 2.60 m/s. The runner is given speed, cadence and contact; the
    rest must come out within one standard deviation."""
    runner = even_runner(2.60, 120 * 1.305, 271.0)
    assert value(runner, "contact_time") == pytest.approx(271.0, abs=25.0)
    assert value(runner, "flight_time") == pytest.approx(112.0, abs=19.0)
    assert value(runner, "step_length") == pytest.approx(99.5, abs=3.0)
    assert value(runner, "cadence") / 120 == pytest.approx(1.31, abs=0.08)
    assert value(runner, "duty_factor") == pytest.approx(35.5, abs=2.3)


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_symmetry_index_worked_example(view: View) -> None:
    """Left steps of 380 ms, right steps of 340 ms: -11.11 % (Robinson, Herzog and Nigg 1987)."""
    index = 100.0 * (340 - 380) / 360
    runner = RunnerParams(
        start_s=0.0, cadence_spm=120 / 0.72, step_time_asymmetry_pct=index, step_time_sd_pct=0.0
    )
    found = measured(runner, view, duration_s=24.0)
    if view is View.SIDE:
        assert found[("step_asymmetry", None)].value == pytest.approx(-11.11, abs=1.5)
    left, right = (found[("step_length", side)].value for side in (Side.LEFT, Side.RIGHT))
    assert left / right == pytest.approx(380 / 340, rel=0.02)


def three_sd(mean: float, sd: float) -> tuple[float, float]:
    return mean - 3 * sd, mean + 3 * sd


PUBLISHED = {
    # PMC6044588, Table 2, 15 uninjured men running: mean (SD).
    "cadence": three_sd(171.0, 7.9),
    "step_length": three_sd(113.0, 6.0),
    # Same table, most knee flexion in stance, left leg.
    "knee_flexion_peak": three_sd(39.2, 6.3),
    # Karamanidis and Arampatzis 2005 (name from memory), older runners: mean (SD).
    "contact_time": three_sd(276.0, 23.0),
    "flight_time": three_sd(80.0, 25.0),
    "duty_factor": three_sd(38.9, 3.1),
}
FROM_MEMORY = {
    # Souza 2016 (from memory).
    "knee_flexion_at_contact": (10.0, 20.0),
    "shank_angle_at_contact": (3.0, 10.0),
    "ankle_dorsiflexion_peak": (20.0, 27.0),
    "hip_extension_peak": (5.0, 20.0),
    # Teng and Powers 2014 (from memory).
    "trunk_lean": (5.0, 12.0),
    # Common in running, no source.
    "vertical_excursion": (6.0, 10.0),
}


def of_an_ordinary_runner(name: str) -> list[Measure]:
    found = measured(RunnerParams(start_s=0.0), duration_s=16.0)
    return [measure for (of, _), measure in found.items() if of == name]


@pytest.mark.parametrize("name", PUBLISHED)
def test_an_ordinary_runner_lies_in_published_ranges(name: str) -> None:
    """Sanity bands: a wrong sign, unit or event leaves them. No verdict on any runner."""
    low, high = PUBLISHED[name]
    measures = of_an_ordinary_runner(name)
    assert measures
    assert all(low <= measure.value <= high for measure in measures)


@pytest.mark.parametrize("name", FROM_MEMORY)
def test_an_ordinary_runner_lies_in_ranges_from_memory(name: str) -> None:
    """The same with ranges less well known, so each widened by the measure's own uncertainty."""
    low, high = FROM_MEMORY[name]
    measures = of_an_ordinary_runner(name)
    assert measures
    for measure in measures:
        assert low - measure.uncertainty <= measure.value <= high + measure.uncertainty
