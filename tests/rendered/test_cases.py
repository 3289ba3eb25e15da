"""The list of cases, and the committed clips against it."""

from dataclasses import asdict, replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from tests.rendered import demo
from tests.rendered.camera import make_camera
from tests.rendered.cases import BEHIND, BY_LANDMARKS, CASES, FRONT, PAIR_STEP_M, SIDE
from tests.rendered.clip import Case, make_truth
from tests.rendered.gait import make_gait
from tests.rendered.params import RunnerParams
from tests.rendered.truth import load_truth

CLIPS = Path(__file__).parent / "clips"
DEMO = Path(__file__).parents[2] / "feedback" / "demo"
IN_CLIPS = [(CLIPS, case) for case in CASES if case.name not in BY_LANDMARKS]
WRITTEN = IN_CLIPS + [(DEMO, case) for case in demo.CASES]


def test_names_are_unique() -> None:
    assert len({case.name for case in CASES}) == len(CASES)


def test_every_third_group_of_a_view_is_kept_apart() -> None:
    by_name = {case.name: case for case in CASES}
    for groups in (SIDE, BEHIND, FRONT):
        for number, group in enumerate(groups):
            for case in group:
                assert by_name[case.name].kept_apart == (number % 3 == 2)
    assert 0.25 < np.mean([case.kept_apart for case in CASES]) < 0.4


def test_both_sets_hold_every_view_and_a_long_side_clip() -> None:
    for apart in (True, False):
        mine = [case for case in CASES if case.kept_apart == apart]
        assert {case.view.view for case in mine} == {"side", "behind", "front"}
        assert any(c.view.view == "side" and c.duration_s >= 70 for c in mine)


def test_pairs_differ_in_strike_ahead_alone() -> None:
    by_name = {case.name: case for case in CASES}
    near = [case for case in CASES if case.name.endswith("_near")]
    assert len(near) >= 3
    for case in near:
        far = by_name[case.name.replace("_near", "_far")]
        for side in ("left", "right"):
            step = far.runner.strike_ahead_m.of(side) - case.runner.strike_ahead_m.of(side)
            assert step == pytest.approx(PAIR_STEP_M)
        runner = replace(far.runner, strike_ahead_m=case.runner.strike_ahead_m)
        assert replace(far, name=case.name, runner=runner) == case


@pytest.mark.parametrize(("folder", "case"), WRITTEN, ids=[c.name for _, c in WRITTEN])
def test_committed_clip_is_this_case(folder: Path, case: Case) -> None:
    truth = load_truth(folder / f"{case.name}.truth.json.xz")
    video = cv2.VideoCapture(str(folder / f"{case.name}.mp4"))
    assert int(video.get(cv2.CAP_PROP_FRAME_COUNT)) == len(truth.frame_time_s)
    assert video.get(cv2.CAP_PROP_FRAME_WIDTH) == truth.camera.width
    assert truth.meta["kept_apart"] == case.kept_apart
    asked = asdict(case.runner)
    asked["happenings"] = list(asked["happenings"])
    # What can be asked for grew after the first clips were drawn: they have the defaults.
    assert {**asdict(RunnerParams()), **truth.meta["params"]} == asked


@pytest.mark.parametrize("number", [0, 1])
def test_committed_truth_is_what_the_generator_gives_now(number: int) -> None:
    case = demo.CASES[number]
    truth = load_truth(DEMO / f"{case.name}.truth.json.xz")
    again = make_truth(case, make_gait(case.runner, case.duration_s), make_camera(case.view))
    assert np.abs(again.joints_m - truth.joints_m).max() < 2e-4
    assert np.abs(again.pixels - truth.pixels).max() < 0.2
    for new, old in zip(again.events, truth.events, strict=True):
        assert new["kind"] == old["kind"]
        assert new["time_s"] == pytest.approx(old["time_s"], abs=1e-5)
