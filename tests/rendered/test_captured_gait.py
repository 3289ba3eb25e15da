"""Bodies moved by captured running do what was captured, on a belt that carries their feet."""

from functools import cache
from pathlib import Path

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from scipy.signal import butter, filtfilt

from shared.catalogue import CATALOGUE
from tests.rendered import captured_cases, measure
from tests.rendered.body import SIDES, Floats
from tests.rendered.captured import STRETCH, Captured, CapturedRunner
from tests.rendered.clip import runner_of
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline
from tests.rendered.trials import FOLDER, load_trial
from tests.rendered.truth import JOINTS

PEOPLE = Path(__file__).parents[1] / "outside" / "people"
FORCES, ESTIMATES = ("rbds001_T25", "rbds001_T35"), ("ric_20140515", "ric_20141003")
TRIALS = FORCES + ESTIMATES
DRIVEN = [(trial, body) for trial in TRIALS for body in ("female", "drawn_4")]
FROM_S, LASTS_S = 4.0, 10.0


@cache
def driven(trial: str, body: str = "female") -> CapturedRunner:
    return Captured(trial, FROM_S).runner(RunnerParams(body=body), LASTS_S)


@cache
def joints(trial: str, body: str) -> tuple[Floats, Floats]:
    """Times, and the 20 joints (n, 20, 3): forward, right, up."""
    t = np.arange(0.0, LASTS_S, 0.002)
    runner = driven(trial, body)
    return t, measure.file_joints(runner.body, runner.motion(t))


def angle_deg(first: Floats, second: Floats) -> Floats:
    lengths = np.linalg.norm(first, axis=1) * np.linalg.norm(second, axis=1)
    cosine = (first * second).sum(axis=1) / lengths
    return np.asarray(np.degrees(np.arccos(np.clip(cosine, -1, 1))))


@pytest.mark.parametrize("name", ["rbds001_T25", "rbds001_T35", "ric_20140515"])
def test_the_trials_are_those_that_are_known_from_elsewhere(name: str) -> None:
    """The first 12 s are also kept for other tests, other frames of the same captured movement."""
    trial = load_trial(name)
    with np.load(PEOPLE / f"{name}.npz") as kept:
        at_s = np.arange(len(kept["tenths_mm"])) * float(kept["step_s"])
        names = [str(joint) for joint in kept["joints"]]
        there = kept["tenths_mm"] / 1e4
        contacts = kept["contact_s"]
    assert trial.contact_s[: len(contacts)] == pytest.approx(contacts, abs=1e-4)
    for side, letter in (("left", "l"), ("right", "r")):
        hip, ankle = (there[:, names.index(f"{joint}_{letter}")] for joint in ("hip", "ankle"))
        apart = np.linalg.norm(trial.joints[f"{side}_ankle"] - trial.joints[f"{side}_hip"], axis=1)
        assert np.interp(at_s, trial.at_s, apart) == pytest.approx(
            np.linalg.norm(ankle - hip, axis=1), abs=0.002
        )


@pytest.mark.parametrize(("trial", "body"), DRIVEN)
def test_legs_have_the_captured_angles(trial: str, body: str) -> None:
    """Knee to 0.2 deg and the line from hip to ankle to 0.2 deg; thigh and shank to 4 deg, since a
    knee that is nearly straight does not tell which way it points."""
    given, runner = load_trial(trial), driven(trial, body)
    inside = (given.at_s > FROM_S) & (given.at_s < FROM_S + LASTS_S)
    motion = runner.motion(given.at_s[inside] - FROM_S)
    for side in SIDES:
        leg = motion.legs[side]
        thigh, shank = (given.legs[side].thigh[inside], given.legs[side].shank[inside])
        hip, knee, ankle = (given.joints[f"{side}_{n}"][inside] for n in ("hip", "knee", "ankle"))
        captured = angle_deg(knee - hip, ankle - knee)
        assert angle_deg(leg.knee - leg.hip, leg.ankle - leg.knee) == pytest.approx(
            captured, abs=0.2
        )
        line = runner.body.thigh_m * thigh + runner.body.shank_m * shank
        assert angle_deg(line, leg.ankle - leg.hip).max() < 0.2
        assert angle_deg(thigh, leg.knee - leg.hip).max() < 4.0
        assert angle_deg(shank, leg.ankle - leg.knee).max() < 4.0
        share = np.linalg.norm(leg.ankle - leg.hip, axis=1) / np.linalg.norm(line, axis=1)
        assert share.min() > 1.0 - STRETCH
        assert share.max() < 1.0 + STRETCH


@pytest.mark.parametrize(("trial", "body"), DRIVEN)
def test_knees_bend_the_right_way_and_nothing_leaps(trial: str, body: str) -> None:
    t, places = joints(trial, body)
    for side in SIDES:
        hip, knee, ankle = (
            places[:, JOINTS.index(f"{side}_{n}")] for n in ("hip", "knee", "ankle")
        )
        down = (hip[:, 2] - knee[:, 2]) / (hip[:, 2] - ankle[:, 2])
        assert (knee[:, 0] > (hip + (ankle - hip) * down[:, None])[:, 0]).all()
    fast = np.linalg.norm(np.diff(places, axis=0), axis=2) / np.diff(t)[0, None]
    assert fast.max() < 14.0  # m/s; toes swing at about three times the belt's speed


@pytest.mark.parametrize(("trial", "body"), DRIVEN)
def test_standing_feet_go_with_the_belt(trial: str, body: str) -> None:
    """From a fifth of the contact, when the foot has landed, until it rolls off: 150 mm/s RMS, of
    which the captured feet themselves have the most."""
    t, places = joints(trial, body)
    runner, speeds = driven(trial, body), []
    timeline = runner.timeline
    for on, off, side in zip(timeline.contact_s, timeline.toe_off_s, timeline.sides, strict=True):
        share = (t[:-1] - on) / (off - on)
        stands = (share > 0.2) & (share < 0.65)
        points = places[:, [JOINTS.index(f"{side}_{n}") for n in ("heel", "ball")]]
        going = np.diff(points[..., 0], axis=0) / 0.002
        speeds.append(going[stands, points[:-1][stands][..., 2].argmin(axis=1)])
    slip = np.concatenate(speeds) + runner.params.belt_speed_mps
    assert np.sqrt((slip**2).mean()) < 0.15
    assert abs(slip.mean()) < 0.02
    assert np.sqrt((slip**2).mean()) == pytest.approx(runner.told["slip_mps"], abs=0.02)


@pytest.mark.parametrize(("trial", "body"), DRIVEN)
def test_soles_stand_on_the_belt(trial: str, body: str) -> None:
    """In stance the lowest point is at most 17 mm in the belt and 5 mm above it; in the middle of
    swing no toe drags, but for 1 cm at most of those whose flat foot nobody marked."""
    runner = driven(trial, body)
    timeline = runner.timeline
    for side in SIDES:
        mine = np.array([s == side for s in timeline.sides]) & (timeline.contact_s > 0.5)
        mine &= timeline.toe_off_s < LASTS_S - 0.5
        on, off = timeline.contact_s[mine], timeline.toe_off_s[mine]
        stance = on[:, None] + np.linspace(0.1, 0.95, 30) * (off - on)[:, None]
        height = _sole(runner, side, stance.ravel())
        assert height.min() > -0.017
        assert height.max() < 0.005
        swing = off[:-1, None] + np.linspace(0.25, 0.9, 20) * (on[1:] - off[:-1])[:, None]
        drags = 0.002 if trial in FORCES else 0.010
        assert _sole(runner, side, swing.ravel()).min() > -drags


def _sole(runner: CapturedRunner, side: str, t: Floats) -> Floats:
    places = measure.file_joints(runner.body, runner.motion(t))
    points = [JOINTS.index(f"{side}_{n}") for n in ("heel", "ball", "toe")]
    return np.asarray(places[:, points, 2].min(axis=1))


@pytest.mark.parametrize("trial", FORCES)
def test_true_contacts_are_the_forces_and_the_drawn_sole_keeps_to_them(trial: str) -> None:
    runner = driven(trial)
    with np.load(FOLDER / f"{trial}.npz") as kept:
        on, off = kept["contact_s"] - FROM_S, kept["toe_off_s"] - FROM_S
    events = measure.events(runner, LASTS_S)
    for kind, times in (("contact", on), ("toe_off", off)):
        told = [event["time_s"] for event in events if event["kind"] == kind]
        assert told == pytest.approx(times[(times >= 0) & (times < LASTS_S)], abs=2e-6)
    first, first_sd = runner.told["drawn_touch_after_contact_ms"]
    last, last_sd = runner.told["drawn_leave_after_toe_off_ms"]
    assert 0.0 <= first < 6.0
    assert first_sd < 5.0
    assert abs(last) < 25.0
    assert last_sd < 6.0


@pytest.mark.parametrize("trial", TRIALS)
def test_signs_of_contact_come_when_the_captured_joints_show_them(trial: str) -> None:
    """Ankle furthest ahead of the hips, feet at half the belt's speed and the body's fastest fall,
    below 6 Hz: each on the mean within 3 ms of the captured joints' own."""
    given = load_trial(trial)
    t, places = joints(trial, "female")
    captured = {n: CubicSpline(given.at_s - FROM_S, v)(t) for n, v in given.joints.items()}
    drawn = {name: places[:, i] for i, name in enumerate(JOINTS)}
    toe = "mt1" if "left_mt1" in given.joints else "foot2"
    heel = "heel" if "left_heel" in given.joints else "foot1"
    runner = driven(trial)
    first = _signs_ms(captured, ("ankle", heel, toe), given.belt_mps, runner.timeline)
    second = _signs_ms(drawn, ("ankle", "heel", "toe"), runner.params.belt_speed_mps,
                       runner.timeline)  # fmt: skip
    assert second == pytest.approx(first, abs=3.0)


def _signs_ms(
    places: dict[str, Floats], of_foot: tuple[str, ...], belt_mps: float, timeline: Timeline
) -> list[float]:
    """After the true contacts, on the median of all."""
    t = np.arange(len(places["left_hip"])) * 0.002
    low_pass = butter(2, 6.0, fs=500.0)
    hips = filtfilt(*low_pass, (places["left_hip"] + places["right_hip"]) / 2, axis=0)
    falls = np.gradient(hips[:, 2], t)
    after: list[tuple[float, float, float]] = []
    for on, side in zip(timeline.contact_s, timeline.sides, strict=True):
        if not 1.0 < on < LASTS_S - 1.0:
            continue
        reaches, comes = (t > on - 0.15) & (t < on + 0.1), (t > on - 0.05) & (t < on + 0.12)
        ankle = filtfilt(*low_pass, places[f"{side}_ankle"][:, 0]) - hips[:, 0]
        foot = np.mean([places[f"{side}_{n}"][:, 0] for n in of_foot], axis=0)
        goes = np.gradient(filtfilt(*low_pass, foot), t)
        after.append(
            (
                t[reaches][np.argmax(ankle[reaches])] - on,
                t[reaches][np.argmax(goes[reaches] < -0.5 * belt_mps)] - on,
                t[comes][np.argmin(falls[comes])] - on,
            )
        )
    return [1000.0 * float(sign) for sign in np.median(after, axis=0)]


def test_the_truth_of_a_step_is_read_from_the_drawn_body() -> None:
    runner = driven("rbds001_T35")
    steps = measure.steps(runner, LASTS_S)
    assert len(steps) > 20
    at = measure.file_joints(runner.body, runner.motion(np.array([s["contact_s"] for s in steps])))
    mid = (at[:, JOINTS.index("left_hip")] + at[:, JOINTS.index("right_hip")]) / 2
    for step, place, hips in zip(steps, at, mid, strict=True):
        ankle = place[JOINTS.index(f"{step['side']}_ankle")]
        assert step["strike_ahead_m"] == pytest.approx(ankle[0] - hips[0], abs=1e-4)
    # 21 cm in a person with legs 1.13 times as long, by the captured joints.
    assert np.mean([s["strike_ahead_m"] for s in steps]) == pytest.approx(0.21 / 1.13, abs=0.012)


@pytest.mark.parametrize("trial", TRIALS)
def test_what_is_not_real_is_said(trial: str) -> None:
    told = driven(trial).told
    assert {"trunk", "head", "arms"} < set(told["not_real"])
    assert "CC BY 4.0, changed" in told["source"]
    true = set(told["true_measures"])
    assert true - {"contact", "toe_off"} <= set(CATALOGUE)
    assert not true & {"trunk_lean", "trunk_side_lean", "arm_direction", "arm_crossing"}
    assert ("contact" in true) == ("strike_ahead" in true) == (trial in FORCES)


def test_a_trial_that_is_too_short_is_refused() -> None:
    with pytest.raises(ValueError, match="does not last"):
        Captured("ric_20140515", 12.0).runner(RunnerParams(), 13.5)


def test_cases_hold_every_trial_view_body_and_look() -> None:
    cases = captured_cases.CASES
    assert len({case.name for case in cases}) == len(cases) == 42
    drivers = [case.driver for case in cases if isinstance(case.driver, Captured)]
    assert len({(driver.trial, driver.from_s) for driver in drivers}) == len(cases)
    for name, (file, *_) in captured_cases.TRIALS.items():
        mine = [case for case in cases if case.name.startswith(f"captured_{name}_")]
        assert {case.driver.trial for case in mine if isinstance(case.driver, Captured)} == {file}
        assert {case.view.view for case in mine} == {"side", "behind", "front"}
        assert {case.view.near_side for case in mine if case.view.view == "side"} == set(SIDES)
        assert any(case.look.lower == "tights" and max(case.look.shoes) < 0.13 for case in mine)
        assert any(case.look.more_rails for case in mine)
    assert not any(case.kept_apart for case in cases)
    assert runner_of(cases[0]).told["driver"]["trial"] == "rbds001_T25"
