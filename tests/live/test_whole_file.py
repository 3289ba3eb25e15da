"""A whole file by several pose models at once: the same poses, in order, whatever their number."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from feedback.demo import demo_clip
from live import whole_file as wholefile
from live.camera.opencv import cv2
from live.pose.model import PoseModel
from live.whole_file import frames_of, models_for
from shared.flow import Frame, Pose, View
from shared.problems import UserError
from shared.units import NS_PER_S

FPS = 10.0


class Echo:
    """Stands in for the pose model: tells what it was given, and since when it follows."""

    def __init__(self, fails_at: int | None = None) -> None:
        self.anew = 0
        self.since: int | None = None
        self._fails_at = fails_at

    def start_anew(self) -> None:
        self.anew += 1
        self.since = None

    def detect(self, frame: Frame) -> Pose:
        if frame.index == self._fails_at:
            raise RuntimeError("on purpose")
        self.since = frame.index if self.since is None else self.since
        return Pose(
            captured_ns=frame.captured_ns,
            index=frame.index,
            width_px=frame.image.shape[1],
            height_px=frame.image.shape[0],
            xy_px=np.full((33, 2), float(self.since)),
            visibility=np.ones(33),
            people=1,
        )


def _picture(number: int) -> NDArray[np.uint8]:
    return np.full((48, 64, 3), number % 250, np.uint8)


@pytest.fixture
def clip(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """53 frames at 10 a second, in parts of a second that are begun 0.2 s early."""
    monkeypatch.setattr(wholefile, "PART_NS", NS_PER_S)
    monkeypatch.setattr(wholefile, "EARLY_NS", NS_PER_S // 5)
    path = tmp_path / "clip.mp4"
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), FPS, (64, 48))
    for number in range(53):
        writer.write(_picture(number))
    writer.release()
    return path


def _models(count: int) -> list[Any]:
    return [Echo() for _ in range(count)]


@pytest.mark.parametrize("count", [1, 2, 3, 8])
def test_every_pose_comes_once_and_in_order(clip: Path, count: int) -> None:
    poses = [seen.pose for seen in frames_of(clip, _models(count), View.SIDE)]
    assert [pose.index for pose in poses] == list(range(53))
    assert [pose.captured_ns for pose in poses] == [n * NS_PER_S // 10 for n in range(53)]


@pytest.mark.parametrize("count", [2, 3, 8])
def test_each_part_is_begun_anew_and_early_whatever_the_number(clip: Path, count: int) -> None:
    poses = [seen.pose for seen in frames_of(clip, _models(count), View.SIDE)]
    since = [int(pose.xy_px[0, 0]) for pose in poses]
    assert since == [max(0, number // 10 * 10 - 2) for number in range(53)]


def test_one_alone_goes_through_without_a_break(clip: Path) -> None:
    model = Echo()
    models: list[Any] = [model]
    assert {int(pose.xy_px[0, 0]) for pose, _ in frames_of(clip, models, View.SIDE)} == {0}
    assert model.anew == 0


def test_who_has_enough_is_not_held_up(clip: Path) -> None:
    poses = frames_of(clip, _models(2), View.SIDE)
    assert next(poses).pose.index == 0
    poses.close()


def test_a_failure_comes_where_it_belongs(clip: Path) -> None:
    models: list[Any] = [Echo(), Echo(fails_at=15)]
    seen: list[int] = []
    poses = frames_of(clip, models, View.SIDE)
    with pytest.raises(RuntimeError, match="on purpose"):
        seen.extend(pose.index for pose, _ in poses)
    assert seen == list(range(15))


def test_a_missing_file_is_told_in_plain_words(tmp_path: Path) -> None:
    with pytest.raises(UserError) as told:
        list(frames_of(tmp_path / "no.mp4", _models(2), View.SIDE))
    assert told.value.problem.code == "file_missing"


def test_short_files_are_worth_one_model_and_long_ones_two_at_least(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for cores, expected in ((1, 2), (2, 2), (3, 3), (64, wholefile.MOST_MODELS)):
        monkeypatch.setattr(wholefile, "cores", lambda cores=cores: cores)
        assert models_for(0.0) == models_for(19.9) == 1
        assert models_for(30.0) == 2
        assert models_for(600.0) == expected


@pytest.mark.model
def test_the_real_model_gives_the_same_however_many_there_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(wholefile, "PART_NS", 2 * NS_PER_S)
    monkeypatch.setattr(wholefile, "EARLY_NS", NS_PER_S // 2)

    def poses(count: int) -> list[dict[str, Any]]:
        models = [PoseModel() for _ in range(count)]
        frames = frames_of(demo_clip(View.SIDE), models, View.SIDE)
        found = [dataclasses.asdict(pose) for pose, _ in frames]
        for model in models:
            model.close()
        return found

    two, three = poses(2), poses(3)
    assert len(two) == len(three) == 180
    for one, other in zip(two, three, strict=True):
        assert np.array_equal(one["xy_px"], other["xy_px"])
        assert one["people"] == other["people"] == 1
