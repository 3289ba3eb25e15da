"""The checks of the camera's place, on rendered clips whose truth is known and on bad pictures."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import islice
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from live.pose.model import PoseModel
from live.scene import camera_placement
from live.scene.picture_facts import facts_of, roll_of_lines
from live.scene.picture_values import PictureFacts
from live.setup_checks import ACROSS_YAW_DEG, SIDE_YAW_DEG, CameraFacts, SetupChecks, all_pass
from shared.flow import Frame, Pose, View
from shared.pictures import Check, CheckState
from shared.units import NS_PER_S
from tests.accuracy.tracks import clips, poses_of, truth_of
from tests.rendered.truth import Truth

Image = NDArray[np.uint8]
GOOD = CameraFacts(frames_per_s=30.0, moved=False, edges_set=True)
CLIPS = [clip for clip in clips() if not clip.stem.endswith(("_near", "_long"))]
BY_NAME = {clip.stem: clip for clip in CLIPS}
pytestmark = pytest.mark.model


def quiet_span(truth: Truth) -> tuple[float, float]:
    """Two seconds of steady running in which nothing else happens."""
    start = float(truth.meta["running_from_s"]) + 2.5
    return start, start + 2.0


def standing_span(truth: Truth) -> tuple[float, float] | None:
    span = truth.meta["standing"]
    return None if span is None else (span[0] + 0.3, span[1] - 0.1)


def poses_in(clip: Path, span: tuple[float, float]) -> list[Pose]:
    low, high = (round((1.0 + at) * NS_PER_S) for at in span)
    return [pose for pose in poses_of(clip) if low <= pose.captured_ns < high]


def picture(clip: Path, index: int) -> Image:
    video = cv2.VideoCapture(str(clip))
    video.set(cv2.CAP_PROP_POS_FRAMES, index)
    ok, image = video.read()
    video.release()
    assert ok
    return np.asarray(image, np.uint8)


def facts(clip: Path, pose: Pose, change: Callable[[Image], Image] = lambda i: i) -> PictureFacts:
    image = change(picture(clip, pose.index))
    return facts_of(Frame(image, pose.captured_ns, pose.index), pose)


def checks_of(
    clip: Path, span: tuple[float, float], camera: CameraFacts = GOOD, view: View | None = None
) -> dict[str, Check]:
    made = SetupChecks(view or View(truth_of(clip).meta["view"]))
    poses = poses_in(clip, span)
    for pose in poses:
        made.add_pose(pose)
    for pose in poses[::20]:
        made.add_picture(facts(clip, pose))
    return {check.key: check for check in made.checks(camera)}


def roll_of(truth: Truth) -> float:
    right, down = truth.camera.axes[0], truth.camera.axes[1]
    return float(np.degrees(np.arctan2(-right[2], -down[2])))


def yaw_errors(kept_apart: bool, side: bool) -> list[float]:
    errors = []
    for clip in CLIPS:
        truth = truth_of(clip)
        if truth.meta["kept_apart"] is not kept_apart or (truth.meta["view"] == "side") is not side:
            continue
        for span in (quiet_span(truth), standing_span(truth)):
            if span is not None:
                placed = camera_placement.find(poses_in(clip, span), View(truth.meta["view"]))
                assert placed is not None
                assert placed.yaw_deg is not None
                errors.append(placed.yaw_deg - truth.meta["yaw_deg"])
    return errors


@pytest.mark.parametrize(("kept_apart", "least"), [(False, 9), (True, 6)])
def test_yaw_from_the_side_is_told_within_what_is_stated(kept_apart: bool, least: int) -> None:
    errors = np.array(yaw_errors(kept_apart, side=True))
    assert len(errors) >= least
    assert np.sqrt((errors**2).mean()) < 3.0
    assert np.abs(errors).max() < 6.0


def test_yaw_from_behind_and_in_front_is_told_within_what_is_stated() -> None:
    errors = np.array(yaw_errors(False, side=False) + yaw_errors(True, side=False))
    assert len(errors) >= 16
    assert np.sqrt((errors**2).mean()) < 2.5
    assert np.abs(errors).max() < 5.0


def test_roll_is_told_from_the_rooms_upright_lines_however_the_picture_is_turned() -> None:
    errors = []
    for clip in CLIPS:
        image = cv2.cvtColor(picture(clip, 60), cv2.COLOR_BGR2GRAY)
        for turn in (-8.0, -4.0, 0.0, 4.0):
            rows, columns = image.shape
            matrix = cv2.getRotationMatrix2D((columns / 2, rows / 2), turn, 1.0)
            turned = cv2.warpAffine(image, matrix, (columns, rows), borderMode=cv2.BORDER_REPLICATE)
            found = roll_of_lines(np.asarray(turned, np.uint8))
            if found is not None:
                errors.append(found - roll_of(truth_of(clip)) - turn)
    assert len(errors) > 0.9 * 4 * len(CLIPS)
    assert np.sqrt(np.square(errors).mean()) < 0.7
    assert np.abs(errors).max() < 2.0


def test_roll_is_told_from_the_body_from_behind_and_in_front() -> None:
    for clip in CLIPS:
        truth = truth_of(clip)
        if truth.meta["view"] == "side":
            continue
        placed = camera_placement.find(poses_in(clip, quiet_span(truth)), View(truth.meta["view"]))
        assert placed is not None
        assert placed.roll_deg == pytest.approx(roll_of(truth), abs=2.0), clip.stem


def test_height_in_the_picture_is_what_it_is() -> None:
    for clip in CLIPS:
        truth = truth_of(clip)
        placed = camera_placement.find(poses_in(clip, quiet_span(truth)), View(truth.meta["view"]))
        assert placed is not None
        distance = float(np.linalg.norm(truth.camera.position_m[:2]))
        share = truth.meta["height_m"] * truth.camera.fy / distance / truth.camera.height
        assert placed.height_share == pytest.approx(share, rel=0.08), clip.stem


def expected(truth: Truth) -> dict[str, str]:
    """What there is to do, by the truth; checks whose truth lies near a limit are left out."""
    yaw = truth.meta["yaw_deg"]
    side = truth.meta["view"] == "side"
    least, most = SIDE_YAW_DEG if side else ACROSS_YAW_DEG
    advice = {"person": "", "view": "", "light": "", "blur": "", "level": "", "distance": ""}
    if yaw < least - 5.0:
        advice["square"] = "to_front" if side else "to_right"
    elif yaw > most + 5.0:
        advice["square"] = "to_back" if side else "to_left"
    elif least + 4.0 < yaw < most - 4.0:
        advice["square"] = ""
    return advice


@pytest.mark.parametrize("name", sorted(BY_NAME))
def test_each_clip_passes_but_for_what_is_wrong_by_its_truth(name: str) -> None:
    truth = truth_of(BY_NAME[name])
    found = checks_of(BY_NAME[name], quiet_span(truth))
    told = {key: found[key].advice for key in expected(truth)}
    assert told == expected(truth)
    assert found["belt_edges"].standing is CheckState.PASS


@pytest.mark.parametrize("name", ["side_11", "side_12", "behind_07", "front_03"])
def test_somebody_who_stands_on_the_belt_can_pass(name: str) -> None:
    span = standing_span(truth_of(BY_NAME[name]))
    assert span is not None
    found = checks_of(BY_NAME[name], span)
    open_checks = {key: c.advice for key, c in found.items() if c.standing is not CheckState.PASS}
    assert set(open_checks) <= {"square"}, open_checks  # behind_07 stands at the limit of 8 degrees


def test_another_view_than_was_asked_for() -> None:
    truth = truth_of(BY_NAME["side_11"])
    found = checks_of(BY_NAME["side_11"], quiet_span(truth), view=View.BEHIND)
    assert found["view"].advice == "view_behind"
    assert found["square"].standing is CheckState.UNKNOWN


def tried(change: Callable[[Image], Image], name: str = "side_11") -> dict[str, Check]:
    """The checks over changed pictures, through the real pose model."""
    clip = BY_NAME[name]
    made = SetupChecks(View(truth_of(clip).meta["view"]))
    video = cv2.VideoCapture(str(clip))
    video.set(cv2.CAP_PROP_POS_FRAMES, 150)
    with PoseModel() as model:
        for index in range(45):
            ok, image = video.read()
            assert ok
            frame = Frame(change(np.asarray(image, np.uint8)), NS_PER_S + index * 33_333_333, index)
            pose = model.detect(frame)
            made.add_pose(pose)
            if index % 10 == 0:
                made.add_picture(facts_of(frame, pose))
    video.release()
    return {check.key: check for check in made.checks(GOOD)}


def rotated(turn: float) -> Callable[[Image], Image]:
    def change(image: Image) -> Image:
        matrix = cv2.getRotationMatrix2D((320, 240), turn, 1.0)
        turned = cv2.warpAffine(image, matrix, (640, 480), borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(turned, np.uint8)

    return change


def moved(right: int, down: int, scale: float = 1.0) -> Callable[[Image], Image]:
    def change(image: Image) -> Image:
        middle = 320 * (1 - scale) + right, 240 * (1 - scale) + down
        matrix = np.array([[scale, 0, middle[0]], [0, scale, middle[1]]], np.float64)
        placed = cv2.warpAffine(image, matrix, (640, 480), borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(placed, np.uint8)

    return change


def backlit(image: Image) -> Image:
    """A white wall behind a body that is nearly black."""
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY).astype(np.float64)
    bright = np.where(grey > 140, 255.0, 0.25 * grey)
    return np.repeat(bright[:, :, None], 3, axis=2).astype(np.uint8)


@pytest.mark.parametrize(
    ("change", "key", "advice"),
    [
        (lambda image: (image * 0.15).astype(np.uint8), "light", "lighter"),
        (lambda image: np.clip(image * 1.9, 0, 255).astype(np.uint8), "light", "darker"),
        (backlit, "light", "backlit"),
        (lambda image: cv2.GaussianBlur(image, (0, 0), 2.5), "blur", "clean_lens"),
        (rotated(7.0), "level", "raise_right"),
        (rotated(-7.0), "level", "raise_left"),
        (moved(0, 110), "whole_body", "tilt_down"),
        (moved(0, -90), "whole_body", "tilt_up"),
        (moved(-250, 0), "whole_body", "turn_left"),
        (moved(250, 0), "whole_body", "turn_right"),
        (moved(0, 0, 1.5), "whole_body", "further"),
        (moved(0, 0, 0.5), "distance", "nearer"),
        (lambda image: np.full_like(image, 120), "person", "step_in"),
    ],
)
def test_bad_pictures_are_told(change: Callable[[Image], Image], key: str, advice: str) -> None:
    found = tried(change)
    assert (found[key].standing, found[key].advice) == (CheckState.TO_DO, advice), found
    assert not all_pass(tuple(found.values()))


@pytest.mark.parametrize(
    ("camera", "key", "advice"),
    [
        (replace(GOOD, frames_per_s=15.0), "frame_rate", "faster"),
        (replace(GOOD, moved=True), "still", "stand_still"),
        (replace(GOOD, pictures_come=False), "camera", "no_picture"),
        (replace(GOOD, edges_set=False), "belt_edges", "draw_edges"),
    ],
)
def test_what_is_known_beside_the_picture(camera: CameraFacts, key: str, advice: str) -> None:
    truth = truth_of(BY_NAME["side_11"])
    found = checks_of(BY_NAME["side_11"], quiet_span(truth), camera)
    assert (found[key].standing, found[key].advice) == (CheckState.TO_DO, advice)


def test_a_second_person_is_told() -> None:
    made = SetupChecks(View.SIDE)
    for pose in islice(poses_of(BY_NAME["side_11"]), 60):
        made.add_pose(replace_people(pose, 2))
    assert {c.key: c.advice for c in made.checks(GOOD)}["person"] == "others_out"


def test_nothing_is_said_before_anything_was_seen() -> None:
    camera = CameraFacts(frames_per_s=None, moved=False, edges_set=True, pictures_come=None)
    found = {check.key: check.standing for check in SetupChecks(View.SIDE).checks(camera)}
    known = {"still", "belt_edges"}
    assert {key for key, standing in found.items() if standing is not CheckState.UNKNOWN} == known


def replace_people(pose: Pose, people: int) -> Pose:
    values: dict[str, Any] = {name: getattr(pose, name) for name in Pose.__dataclass_fields__}
    return Pose(**(values | {"people": people}))
