"""The hips followed from picture to picture: known ways, poor pictures, rendered clips."""

from __future__ import annotations

import functools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from live.pipeline import Pipeline, Setup
from live.pixels.hips import LONGEST_PAIR_NS, HipsCut, HipsFollower, hips_cut_of
from shared.flow import FloatArray, Frame, Pose, View
from shared.landmarks import Landmark as Lm
from tests.accuracy.tracks import CLIPS, poses_of, truth_of, watched
from tests.live.pixels import textures

ROWS, COLUMNS = 480, 640
BODY = (slice(120, 330), slice(270, 370))
TRUNK_PX = 100.0


@functools.cache
def textured(seed: int) -> FloatArray:
    return textures.textured(seed, ROWS, COLUMNS, contrast=120.0, grain_px=2.5)


def moved(x_px: float, y_px: float, seed: int) -> tuple[FloatArray, FloatArray]:
    """A room that stands still, and before it a body that goes so far."""
    return textures.moved(textured(seed), textured(seed + 1) - 30.0, BODY, y_px, x_px)


def pose(x_px: float, y_px: float, trunk_px: float = TRUNK_PX, scale: float = 1.0) -> Pose:
    xy = np.full((33, 2), (x_px, y_px))
    xy[[Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER], 1] -= trunk_px
    size = round(scale * COLUMNS), round(scale * ROWS)
    return Pose(0, 0, *size, scale * xy, np.ones(33), 1)


def cut(picture: FloatArray, at_ns: int, x_px: float, y_px: float, scale: int = 1) -> HipsCut:
    grey = np.clip(np.rint(picture), 0, 255).astype(np.uint8)
    grey = grey.repeat(scale, axis=0).repeat(scale, axis=1)
    found = hips_cut_of(Frame(np.dstack([grey] * 3), at_ns, 0), pose(x_px, y_px, scale=scale))
    assert found is not None
    return found


@pytest.mark.parametrize("x_px", [-4.1, -2.3, -0.4, 0.0, 1.7, 3.2])
@pytest.mark.parametrize("y_px", [-4.0, 0.0, 3.5])
@pytest.mark.parametrize("seed", [3, 20])
def test_the_way_is_found_to_a_quarter_of_a_pixel(x_px: float, y_px: float, seed: int) -> None:
    """Hips go up to two pixels from picture to picture, at 30 a second and 480 rows."""
    before, now = moved(x_px, y_px, seed)
    # The landmarks are off by some pixels, in each picture otherwise.
    first, second = cut(before, 0, 322.0, 251.0), cut(now, 33, 317.0 + x_px, 247.0 + y_px)
    assert HipsFollower().way_px(first, second) == pytest.approx(x_px, abs=0.25)


def test_a_large_picture_says_the_same() -> None:
    before, now = moved(3.3, 1.0, 5)
    first, second = cut(before, 0, 322.0, 251.0, 3), cut(now, 33, 316.6, 246.0, 3)
    assert first.cut.per_px == pytest.approx(1 / 3)
    assert first.cut.grey.shape[1] < 160
    assert HipsFollower().way_px(first, second) == pytest.approx(3 * 3.3, abs=0.6)


def test_nothing_is_said_of_pictures_that_do_not_belong_together() -> None:
    before, now = moved(3.3, 0.0, 5)
    first, follower = cut(before, 0, 320.0, 250.0), HipsFollower()
    assert follower.way_px(first, cut(now, LONGEST_PAIR_NS + 1, 320.0, 250.0)) is None
    assert follower.way_px(first, cut(now, 33, 320.0, 250.0, 2)) is None
    assert follower.way_px(first, cut(now, 33, 480.0, 250.0)) is None


def test_no_cut_without_hips_of_some_size_in_the_picture() -> None:
    frame = Frame(np.zeros((ROWS, COLUMNS, 3), np.uint8), 0, 0)
    good = pose(320.0, 250.0)
    unknown = good.xy_px.copy()
    unknown[Lm.LEFT_HIP] = np.nan
    for poor in (
        replace(good, people=0),
        replace(good, xy_px=unknown),
        pose(320.0, 250.0, trunk_px=10.0),
        pose(-30.0, 250.0),
        pose(320.0, 500.0),
    ):
        assert hips_cut_of(frame, poor) is None
    assert hips_cut_of(frame, good) is not None


places = st.floats(-2000.0, 2000.0) | st.sampled_from([0.0, 320.0, 240.0, 479.5, 1e7])


@given(places, places, places, places, st.floats(0.0, 1e4), st.floats(0.0, 1e4))
def test_whatever_is_asked_it_answers_or_says_nothing(
    x_px: float, y_px: float, next_x_px: float, next_y_px: float, trunk_px: float, next_px: float
) -> None:
    """A session must not end because of landmarks far off."""
    image = np.dstack([textured(1).astype(np.uint8)] * 3)
    first = hips_cut_of(Frame(image, 0, 0), pose(x_px, y_px, trunk_px))
    second = hips_cut_of(Frame(image, 33, 1), pose(next_x_px, next_y_px, next_px))
    if first is not None and second is not None:
        way = HipsFollower().way_px(first, second)
        assert way is None or abs(way) < 0.5  # the same picture twice: nothing moves


@pytest.mark.model
@pytest.mark.parametrize("name", ["behind_01", "behind_03", "behind_07"])
def test_in_a_rendered_clip_the_cloth_goes_with_the_hips(name: str) -> None:
    """Against mid-hips as projected from the truth, frame by frame, and against their landmarks."""
    clip = Path(CLIPS / f"{name}.mp4")
    truth, poses = truth_of(clip), poses_of(clip)
    pipeline = Pipeline(Setup(View(truth.meta["view"]), truth.meta["height_m"]))
    seen = [np.nan if way is None else way for way, _ in watched(clip, poses, pipeline)]
    hips = [truth.joint_index(f"{side}_hip") for side in ("left", "right")]
    true: NDArray[np.float64] = np.diff(truth.pixels[: len(seen), hips, 0].mean(axis=1))
    marks = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
    by_landmarks = np.diff([one.xy_px[marks, 0].mean() for one in poses[: len(seen)]])
    ways = np.array(seen[1:])
    known = np.isfinite(ways)
    assert known.mean() > 0.98
    off = np.std((ways - true)[known])
    assert off < 0.7 * np.std((by_landmarks - true)[known])
    assert np.corrcoef(ways[known], true[known])[0, 1] > 0.8
