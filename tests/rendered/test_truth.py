"""The truth file: comes back as it was saved, and its camera sees what the painter draws."""

import dataclasses
from pathlib import Path

import numpy as np
import pytest

from tests.rendered import measure
from tests.rendered.camera import View, make_camera
from tests.rendered.clip import Case, belt_travel, frame_times, make_truth
from tests.rendered.gait import make_gait
from tests.rendered.params import RunnerParams
from tests.rendered.truth import FORMAT, JOINTS, Truth, load_truth, save_truth

VIEWS = {
    "right": View("side", "right", yaw_deg=12.0),
    "left": View("side", "left", yaw_deg=-10.0),
    "behind": View("behind"),
    "front": View("front", height_m=1.2),
}


def truth_of(case: Case) -> Truth:
    return make_truth(case, make_gait(case.runner, case.duration_s), make_camera(case.view))


def test_truth_comes_back_as_saved(tmp_path: Path) -> None:
    truth = truth_of(Case("one", duration_s=2.0))
    save_truth(tmp_path / "one.truth.json.xz", truth)
    back = load_truth(tmp_path / "one.truth.json.xz")
    assert np.abs(back.joints_m - truth.joints_m).max() < 1e-4
    assert np.abs(back.pixels - truth.pixels).max() < 0.1
    assert back.events == truth.events
    assert back.steps == truth.steps
    assert back.means == truth.means


def test_a_truth_may_hold_some_joints_only(tmp_path: Path) -> None:
    truth = truth_of(Case("one", duration_s=2.0))
    save_truth(tmp_path / "some.truth.json.xz", truth, ("left_ankle", "nose"))
    back = load_truth(tmp_path / "some.truth.json.xz")
    for name in ("left_ankle", "nose"):
        assert np.abs(back.joint(name) - truth.joint(name)).max() < 1e-4
    assert np.isnan(back.joint("right_ankle")).all()


def test_other_files_are_refused(tmp_path: Path) -> None:
    import lzma

    path = tmp_path / "other.truth.json.xz"
    path.write_bytes(lzma.compress(b'{"format": "something else"}'))
    with pytest.raises(ValueError, match=FORMAT):
        load_truth(path)


@pytest.mark.parametrize("name", VIEWS)
def test_runner_faces_the_right_way_in_the_picture(name: str) -> None:
    truth = truth_of(Case("one", view=VIEWS[name], duration_s=1.0))
    at = truth.joint_index
    x = {n: truth.pixels[:, at(n), 0].mean() for n in ("nose", "head", "left_hip", "right_hip")}
    y = {n: truth.pixels[:, at(n), 1].mean() for n in ("nose", "left_ankle")}
    assert y["nose"] < y["left_ankle"]
    if name == "right":
        assert x["nose"] > x["head"]
    elif name == "left":
        assert x["nose"] < x["head"]
    elif name == "behind":
        assert x["right_hip"] > x["left_hip"]
    else:
        assert x["right_hip"] < x["left_hip"]


def test_pixels_follow_the_pinhole_by_hand() -> None:
    # A camera 3 m to the runner's right, level, looking across: a point 0.3 m ahead of the
    # middle and 0.2 m above the aim lies focal * 0.3 / 3 to the right and focal * 0.2 / 3 up.
    view = View("side", "right", distance_m=3.0, height_m=0.9, aim_height_m=0.9)
    camera = truth_of(Case("one", view=view, duration_s=1.0)).camera
    pixel = camera.project(np.array([0.3, 0.0, 1.1]))
    assert pixel[0] == pytest.approx(320 + camera.fx * 0.1)
    assert pixel[1] == pytest.approx(240 - camera.fy * 0.2 / 3)
    bent = dataclasses.replace(camera, k1=-0.1).project(np.array([0.3, 0.0, 1.1]))
    shrink = 1 - 0.1 * (0.1**2 + (0.2 / 3) ** 2)
    assert bent[0] == pytest.approx(320 + camera.fx * 0.1 * shrink)


def test_strike_ahead_agrees_with_the_joints_of_the_file() -> None:
    params = RunnerParams()
    gait = make_gait(params, 3.0)
    for step in measure.steps(gait, 3.0):
        joints = measure.file_joints(gait.body, gait.motion(np.array([step["contact_s"]])))[0]
        hips = (joints[0] + joints[1]) / 2
        ankle = joints[JOINTS.index(f"{step['side']}_ankle")]
        assert ankle[0] - hips[0] == pytest.approx(step["strike_ahead_m"], abs=1e-4)


def test_standing_over_the_leg_is_positive_on_both_sides() -> None:
    # The pelvis travels toward the standing leg: to the runner's right in right stance.
    gait = make_gait(RunnerParams(variability=0.0), 3.0)
    for step in measure.steps(gait, 3.0):
        t = np.linspace(step["contact_s"], step["toe_off_s"], 50)
        joints = measure.file_joints(gait.body, gait.motion(t))
        right = joints[:, :2, 1].mean(axis=1)
        travel = (right - right[0]) * (1 if step["side"] == "right" else -1)
        assert travel.max() == pytest.approx(step["pelvic_shift_m"], abs=0.0005)


def test_frame_times_jitter_and_drop_but_keep_their_order() -> None:
    case = Case("one", fps=24.0, duration_s=10.0, jitter_s=0.004, drop_share=0.1)
    times = frame_times(case)
    assert 190 < len(times) < 236
    assert (np.diff(times) > 0).all()
    assert times[0] == 0
    assert np.abs(np.diff(times) % (1 / 24)).max() > 0.001


def test_belt_stands_then_reaches_its_speed() -> None:
    params = RunnerParams(stand_s=3.0, start_s=2.0)
    t = np.array([0.0, 3.0, 5.0, 6.0])
    travel = belt_travel(params, t)
    assert travel[:2].tolist() == [0.0, 0.0]
    assert travel[3] - travel[2] == pytest.approx(params.belt_speed_mps)
