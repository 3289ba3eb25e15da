"""Captured runners lie inside the spread of the drawn gaits, and the descriptors tell the truth."""

from dataclasses import replace
from functools import cache

import pytest

from tests.rendered import spring_cases, wide_cases
from tests.rendered.clip import Case
from tests.rendered.descriptors import ARMS, CAPTURED_ARMS, NAMES, captured, descriptors, drawn
from tests.rendered.params import RunnerParams
from tests.rendered.strides import CONTACT_S

BETWEEN = (
    *("wide_side_03", "wide_side_06", "wide_side_00", "wide_side_07"),
    *("spring_behind_06", "spring_front_00"),
)
"""Cases that between them lie on both sides of every captured runner (`descriptors.py` tells of
all)."""


@cache
def spread() -> dict[str, tuple[float, float]]:
    cases = {case.name: case for case in (*spring_cases.CASES, *wide_cases.CASES)}
    found = [descriptors(drawn(cases[name])) for name in BETWEEN]
    return {
        name: (min(one[name] for one in found), max(one[name] for one in found))
        for name in (*NAMES, *ARMS)
    }


@pytest.mark.parametrize("trial", CONTACT_S)
def test_captured_runners_lie_inside_the_drawn_gaits(trial: str) -> None:
    found = descriptors(captured(trial))
    for name in NAMES:
        least, most = spread()[name]
        assert least <= found[name] <= most, name


@pytest.mark.parametrize("name", CAPTURED_ARMS)
def test_captured_arms_lie_inside_the_drawn_gaits(name: str) -> None:
    least, most = spread()[name]
    assert least <= CAPTURED_ARMS[name][0]
    assert most >= CAPTURED_ARMS[name][1]


def test_in_some_drawn_runners_the_elbow_goes_outward_and_the_wrist_inward() -> None:
    cases = (*spring_cases.CASES, *wide_cases.CASES)
    found = descriptors(drawn(next(case for case in cases if case.name == BETWEEN[0])))
    assert found["elbow_inward_deg"] < -5
    assert found["wrist_inward_deg"] > 5


@pytest.mark.parametrize(
    ("trial", "fastest_ms", "passes_ms", "speed_07_ms"),
    [("rbds001_T25", 40.0, 14.0, 13.0), ("rbds001_T35", 30.0, 8.0, 14.0)],
)
def test_descriptors_of_captured_runners_are_those_found_by_others(
    trial: str, fastest_ms: float, passes_ms: float, speed_07_ms: float
) -> None:
    """Figures of another computation on the whole trials: means of 76 and 83 contacts."""
    found = descriptors(captured(trial))
    assert found["ankle_ahead_before_ms"] == pytest.approx(28.0, abs=4.0)
    assert found["foot_half_speed_ms"] == pytest.approx(0.0, abs=4.0)
    assert found["foot_07_speed_ms"] == pytest.approx(speed_07_ms, abs=4.0)
    assert found["body_falls_fastest_ms"] == pytest.approx(fastest_ms, abs=4.0)
    assert found["body_passes_07g_ms"] == pytest.approx(passes_ms, abs=8.0)


def test_descriptors_of_a_drawn_runner_are_what_was_asked() -> None:
    asked = RunnerParams(
        retraction_s=0.05, pelvic_rotation_deg=5.0, thorax_rotation_deg=12.0, variability=0.0
    )
    found = descriptors(drawn(Case("asked", asked)))
    assert found["ankle_ahead_before_ms"] == pytest.approx(50.0, abs=3.0)
    assert found["pelvis_turn_deg"] == pytest.approx(5.0, abs=0.2)
    assert found["thorax_turn_deg"] == pytest.approx(12.0, abs=0.2)
    assert found["foot_angle_deg"] == pytest.approx(14.0, abs=1.0)
    assert found["wrist_inward_deg"] == pytest.approx(15.0, abs=1.0)
    later = replace(asked, force_rise=1.4)
    assert descriptors(drawn(Case("later", later)))["body_falls_fastest_ms"] > (
        found["body_falls_fastest_ms"] + 10
    )
