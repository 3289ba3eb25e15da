"""A second person is noticed by the real model, and one runner is never taken for two."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

import feedback.demo
from live.camera.opencv import cv2
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.flow import Frame

pytestmark = pytest.mark.model

CLIPS = Path(feedback.demo.__file__).parent
Picture = NDArray[np.uint8]


def _read_clip(name: str) -> list[Frame]:
    source = FileSource(CLIPS / f"{name}.mp4", as_live=False)
    source.open()
    frames = list(iter(source.read, None))
    source.close()
    return frames


def _beside(picture: Picture, other: Picture, left_px: int, height_px: int) -> Picture:
    """``picture`` with the runner of ``other`` cut out and put in at ``left_px``."""
    body = other[55:450, 250:400]
    width_px = round(body.shape[1] * height_px / body.shape[0])
    joined = picture.copy()
    joined[-height_px:, left_px : left_px + width_px] = cv2.resize(body, (width_px, height_px))
    return joined


@pytest.mark.parametrize("view", ["side", "behind"])
def test_one_runner_is_one_person_throughout(view: str) -> None:
    with PoseModel() as model:
        assert {model.detect(frame).people for frame in _read_clip(view)} == {1}


@pytest.mark.parametrize(
    ("view", "other", "left_px", "height_px"),
    [("side", "behind", 30, 380), ("behind", "side", 450, 300)],
)
def test_a_second_person_is_told_and_forgotten_in_time(
    view: str, other: str, left_px: int, height_px: int
) -> None:
    frames, visitor = _read_clip(view), _read_clip(other)
    entered, left = 40, 110
    for number in range(entered, left):
        image = _beside(frames[number].image, visitor[-number].image, left_px, height_px)
        frames[number] = Frame(image, frames[number].captured_ns, number)
    with PoseModel() as model:
        people = [model.detect(frame).people for frame in frames]
    assert 2 in people[:95]
    with PoseModel() as model:  # however fast the search is, a file gives the same answers
        assert [model.detect(frame).people for frame in frames[:95]] == people[:95]
    told, forgotten = people.index(2), len(people) - people[::-1].index(2)
    assert entered < told <= entered + 45  # 1.5 s of 30 pictures a second
    assert left < forgotten <= left + 45
    assert set(people[told:forgotten]) == {2}
    assert set(people[:told] + people[forgotten:]) == {1}
