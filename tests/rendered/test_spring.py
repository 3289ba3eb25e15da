"""The second gait: its mass flies, its feet stand on the belt, its truth is that of its sole."""

from dataclasses import replace

import numpy as np
import pytest

from tests.rendered import measure, wide_cases
from tests.rendered.body import SIDES
from tests.rendered.camera import make_camera
from tests.rendered.clip import make_truth, runner_of
from tests.rendered.params import BySide, RunnerParams, both
from tests.rendered.spring import Spring, SpringGait
from tests.rendered.spring_cases import BUILDS, CASES
from tests.rendered.spring_mass import G, spring_step
from tests.rendered.test_feet import soles, stances_that_keep_to_the_belt
from tests.rendered.track_file import TRACKS
from tests.rendered.truth import load_truth

SECONDS = 3.0
SOME = [case for case in CASES if not case.runner.stand_s][::11]


@pytest.fixture(scope="module", params=SOME, ids=[case.name for case in SOME])
def gait(request: pytest.FixtureRequest) -> SpringGait:
    assert isinstance(request.param.driver, Spring)
    return request.param.driver.runner(request.param.runner, SECONDS)


def test_spring_carries_body_weight_over_a_step_and_is_even_in_time() -> None:
    # Momentum: over a whole step the leg gives g times the step's time, and no push forward.
    contact_s, flight_s = 0.24, 0.11
    upward, forward = spring_step(0.9, 3.0, contact_s, flight_s)
    assert np.trapezoid(upward, dx=contact_s / (len(upward) - 1)) == pytest.approx(
        G * (contact_s + flight_s), rel=1e-3
    )
    pushed = float(np.trapezoid(forward, dx=contact_s / (len(forward) - 1)))
    assert abs(pushed) < 1e-9
    # A peak of two to three times body weight: McMahon & Cheng 1990, from memory.
    assert 2.0 < float(upward.max()) / G < 3.0


def test_a_stance_longer_than_the_leg_is_refused() -> None:
    with pytest.raises(ValueError, match="spring"):
        spring_step(0.9, 8.0, 0.4, 0.1)


def test_flight_is_a_parabola(gait: SpringGait) -> None:
    mass, line = gait.legs.mass, gait.timeline
    dt = 0.004
    for off, on in zip(line.toe_off_s[3:-2], line.contact_s[4:-1], strict=True):
        t = np.arange(off + dt, on - dt, dt)
        falling = np.diff(mass.height(t), 2) / dt**2
        assert np.allclose(falling, -G, atol=1e-3)


def test_mass_moves_without_a_jump_and_lands_where_it_should(gait: SpringGait) -> None:
    mass, line = gait.legs.mass, gait.timeline
    assert np.allclose(mass.height(line.contact_s), mass.heights_m, atol=1e-9)
    t = np.arange(0, SECONDS, 0.0005)
    assert np.abs(np.diff(mass.height(t))).max() < 0.0005 * 2.0
    assert np.abs(np.diff(mass.height(t), 2)).max() / 0.0005**2 < 6 * G


def test_what_touches_the_belt_goes_with_it(gait: SpringGait) -> None:
    assert stances_that_keep_to_the_belt(gait, np.arange(0, SECONDS, 0.001)) > 8


def test_sole_lies_on_the_belt_in_stance_and_nowhere_else(gait: SpringGait) -> None:
    t = np.arange(0, SECONDS, 0.001)
    motion = gait.motion(t)
    for side, sole in soles(gait, t).items():
        lowest, on_belt = sole[..., 2].min(axis=1), motion.legs[side].on_belt > 0
        assert np.abs(lowest[on_belt]).max() < 0.0002
        assert lowest[~on_belt].min() > -1e-6


def test_contact_is_the_first_touch_and_toe_off_the_last(gait: SpringGait) -> None:
    for event in measure.events(gait, SECONDS):
        at = event["time_s"] + np.array([-0.010, -0.002, 0.0, 0.002, 0.010])
        lowest = soles(gait, at)[event["side"]][..., 2].min(axis=1)
        assert lowest[2] == pytest.approx(0.0, abs=0.0001)
        before, after = (0, 3) if event["kind"] == "contact" else (4, 1)
        assert lowest[before] > 0.001
        assert abs(lowest[after]) < 0.0001


def test_limbs_keep_their_length_and_knees_do_not_jerk(gait: SpringGait) -> None:
    t = np.arange(0, SECONDS, 0.004)
    motion = gait.motion(t)
    for side in SIDES:
        leg, arm = motion.legs[side], motion.arms[side]
        bones = (
            (leg.hip, leg.knee),
            (leg.knee, leg.ankle),
            (arm.shoulder, arm.elbow),
            (arm.elbow, arm.wrist),
        )
        for a, b in bones:
            assert np.ptp(np.linalg.norm(a - b, axis=1)) < 1e-9
        # 1000 deg/s is the most that running knees do in swing (from memory); and no leaps.
        assert np.abs(np.diff(np.degrees(gait.knee_bend(leg)))).max() / 0.004 < 1500.0


def test_uneven_steps_and_reach_come_out() -> None:
    params = RunnerParams(
        body="male",
        contact_time_ms=BySide(225.0, 215.0),
        step_time_asymmetry_pct=4.0,
        step_time_sd_pct=0.0,
        variability=0.0,
        belt_speed_mps=3.0,
        cadence_spm=170.0,
    )
    gait = Spring(3).runner(params, SECONDS)
    found = measure.means(measure.steps(gait, SECONDS), [])
    left, right = found["left"], found["right"]
    times = left["step_time_s"], right["step_time_s"]
    assert 200 * (times[1] - times[0]) / sum(times) == pytest.approx(4.0, abs=0.1)
    assert left["contact_time_s"] - right["contact_time_s"] == pytest.approx(0.010, abs=0.001)
    assert 0.002 < abs(left["strike_ahead_m"] - right["strike_ahead_m"]) < 0.05
    assert 60 / found["both"]["step_time_s"] == pytest.approx(170.0, abs=0.5)
    assert found["both"]["step_length_m"] == pytest.approx(3.0 * 60 / 170.0, rel=0.01)


def test_more_cadence_is_less_bounce() -> None:
    # Known of running, and a spring's identity: shorter flight, less way up and down.
    bounces = []
    for cadence in (160.0, 180.0):
        params = RunnerParams(
            body="male", contact_time_ms=both(220.0), cadence_spm=cadence, variability=0.0
        )
        gait = Spring(3).runner(params, SECONDS)
        found = measure.means(measure.steps(gait, SECONDS), [])["both"]
        bounces.append(found["vertical_excursion_m"])
    assert bounces[0] > bounces[1] + 0.01


def test_stands_still_before_the_belt_starts() -> None:
    case = next(case for case in CASES if case.runner.stand_s)
    assert isinstance(case.driver, Spring)
    gait = case.driver.runner(replace(case.runner, stand_s=2.0), 6.0)
    joints = measure.file_joints(gait.body, gait.motion(np.linspace(0, 2, 11)))
    assert np.ptp(joints, axis=0).max() < 0.02
    assert measure.events(gait, 6.0)[0]["time_s"] >= 2.0 + case.runner.start_s


def test_cases_come_from_wide_ranges() -> None:
    runners = [case.runner for case in CASES]
    assert len({case.name for case in CASES}) == len(CASES) == 44
    assert {runner.body for runner in runners} == set(BUILDS)
    assert {case.view.near_side for case in CASES if case.view.view == "side"} == {"left", "right"}
    for name, low, high in (
        ("belt_speed_mps", 2.4, 4.4),
        ("cadence_spm", 150.0, 195.0),
        ("height_m", 1.62, 1.92),
    ):
        values = [getattr(runner, name) for runner in runners]
        assert low <= min(values) < low + (high - low) / 4
        assert high >= max(values) > high - (high - low) / 4
    recipes = [case.driver.recipe for case in CASES if isinstance(case.driver, Spring)]
    assert len(set(recipes)) == 44


@pytest.mark.parametrize("name", ["spring_side_13", "wide_side_01"])
def test_the_kept_truth_is_what_the_generator_gives_now(name: str) -> None:
    case = next(case for case in (*CASES, *wide_cases.CASES) if case.name == name)
    truth = load_truth(TRACKS / f"{name}.truth.json.xz")
    again = make_truth(case, runner_of(case), make_camera(case.view))
    assert np.nanmax(np.abs(again.joints_m - truth.joints_m)) < 2e-4
    assert again.steps == truth.steps
