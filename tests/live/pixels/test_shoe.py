"""How far a shoe has gone, from its pixels: made-up pictures, and a rendered clip."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from live.measures.belt_speed import Spot
from live.pipeline import Pipeline, Setup
from live.pixels.patches import MOST_ROWS, Cut
from live.pixels.shoe import strip_of, way_px
from shared.flow import FloatArray, Frame, Pose, Side, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.accuracy.tracks import CLIPS, poses_of, truth_of, watched
from tests.live.pixels import textures

ROWS, COLUMNS = 60, 300
SHOE = (slice(22, 44), slice(150, 210))
SPOT = Spot(Side.LEFT, 0, 33, x_px=180.0, y_px=33.0, length_px=56.0, way_px=-25.0, ahead_px=0.0)


def textured(seed: int, rows: int = ROWS, columns: int = COLUMNS) -> FloatArray:
    return textures.textured(seed, rows, columns)


def strip(picture: FloatArray, at_ns: int = 0, top_px: float = 0.0, per_px: float = 1.0) -> Cut:
    grey = np.clip(picture, 0, 255).astype(np.uint8)
    return Cut(at_ns, 0.0, top_px, per_px, grey)


def moved(shift_px: float, seed: int = 3) -> tuple[FloatArray, FloatArray]:
    """A room that stands still, and before it a shoe that goes ``shift_px``."""
    return textures.moved(textured(seed), textured(seed + 1), SHOE, 0.0, shift_px)


@pytest.mark.parametrize("shift_px", [-30.8, -25.4, -22.75, -19.3])
@pytest.mark.parametrize("seed", [3, 10, 17])
def test_the_way_is_found_to_a_fifth_of_a_pixel(shift_px: float, seed: int) -> None:
    before, now = moved(shift_px, seed)
    found = way_px(strip(before), strip(now), SPOT)
    assert found == pytest.approx(shift_px, abs=0.2)


def test_forward_and_back_are_told_apart() -> None:
    before, now = moved(25.4)
    found = way_px(strip(before), strip(now), replace(SPOT, way_px=24.0))
    assert found == pytest.approx(25.4, abs=0.2)
    assert way_px(strip(before), strip(now), SPOT) is None


def test_a_room_that_stands_still_is_never_taken_for_the_shoe() -> None:
    room = textured(5)
    assert way_px(strip(room), strip(room), SPOT) is None
    # Nor where the belt is so slow that the place of no way at all is near.
    for expected in (-3.0, -6.0, -9.0):
        assert way_px(strip(room), strip(room), replace(SPOT, way_px=expected)) is None


def test_nothing_is_said_of_a_shoe_that_is_gone_or_not_whole_in_the_picture() -> None:
    before, now = moved(-25.4)
    assert way_px(strip(before), strip(textured(40)), SPOT) is None
    for x_px in (10.0, 296.0):
        assert way_px(strip(before), strip(now), replace(SPOT, x_px=x_px)) is None
    for y_px in (2.0, 58.0):
        assert way_px(strip(before), strip(now), replace(SPOT, y_px=y_px)) is None


def test_strips_cut_at_other_rows_and_made_smaller_say_the_same() -> None:
    before, now = moved(-25.4)
    first = strip(before, top_px=300.0, per_px=0.5)
    second = strip(now[3:], top_px=306.0, per_px=0.5)
    large = replace(SPOT, x_px=360.0, y_px=300.0 + 66.0, length_px=112.0, way_px=-50.0)
    assert way_px(first, second, large) == pytest.approx(-50.8, abs=0.4)
    assert way_px(first, strip(now, per_px=1.0), large) is None


numbers = st.floats(-3000.0, 3000.0) | st.sampled_from([0.0, 0.5, 180.0, 33.0, -25.0, 1e7])


@given(numbers, numbers, numbers, numbers, st.integers(1, 90), st.integers(1, 400))
def test_whatever_is_asked_it_answers_or_says_nothing(
    x_px: float, y_px: float, length_px: float, way: float, rows: int, columns: int
) -> None:
    """A session must not end because a camera came back with pictures of another size."""
    spot = replace(SPOT, x_px=x_px, y_px=y_px, length_px=length_px, way_px=way)
    found = way_px(strip(textured(1)), strip(textured(2, rows, columns)), spot)
    assert found is None or abs(found - way) <= 0.6 * abs(way) + 1.0


def standing(width: int, height: int, foot_y: float) -> Pose:
    xy = np.full((33, 2), (width / 2, foot_y))
    xy[[Lm.LEFT_KNEE, Lm.RIGHT_KNEE], 1] = foot_y - height / 6
    return Pose(0, 0, width, height, xy, np.ones(33), 1)


def test_a_strip_holds_the_rows_about_the_lowest_foot() -> None:
    picture = np.zeros((480, 640, 3), np.uint8)
    picture[400] = 255
    cut = strip_of(Frame(picture, 7, 0), standing(640, 480, 400.0))
    assert cut is not None
    assert (cut.captured_ns, cut.top_px, cut.per_px) == (7, 360.0, 1.0)
    assert cut.grey.shape == (80, 640)
    assert np.flatnonzero(cut.grey.any(axis=1)).tolist() == [40]


def test_a_large_picture_costs_no_more_than_a_small_one() -> None:
    picture = np.zeros((1080, 1920, 3), np.uint8)
    cut = strip_of(Frame(picture, 7, 0), standing(1920, 1080, 900.0))
    assert cut is not None
    assert cut.per_px == pytest.approx(MOST_ROWS / 1080)
    assert cut.grey.shape == (80, 853)


def test_no_strip_without_feet_in_the_picture() -> None:
    frame = Frame(np.zeros((480, 640, 3), np.uint8), 0, 0)
    pose = standing(640, 480, 400.0)
    unknown = pose.xy_px.copy()
    unknown[Lm.LEFT_HEEL] = np.nan
    for poor in (replace(pose, people=0), standing(640, 480, 520.0), replace(pose, xy_px=unknown)):
        assert strip_of(frame, poor) is None


@pytest.mark.model
@pytest.mark.parametrize("name", ["side_01_far", "side_10", "side_13"])
def test_in_a_rendered_clip_the_shoes_go_with_the_belt(name: str) -> None:
    """Against the way of a point on the belt beneath the standing foot, projected by the truth."""
    clip = Path(CLIPS / f"{name}.mp4")
    truth, poses = truth_of(clip), poses_of(clip)
    pipeline = Pipeline(Setup(View.SIDE, truth.meta["height_m"]))
    shares: dict[str, list[float]] = {"left": [], "right": []}
    times = np.asarray(truth.frame_time_s)
    spots: list[tuple[Spot | None, float | None]] = []
    for way, _ in watched(clip, poses, pipeline):
        spots.append((pipeline.standing_shoe(), way))
    for (number, later), (spot, way) in zip(pairwise(range(len(spots))), spots[1:], strict=True):
        if spot is None or way is None:
            continue
        assert spot.before_ns == NS_PER_S + round(times[number] * NS_PER_S)
        ankle: NDArray[np.float64] = truth.joint(f"{spot.side.value}_ankle")[number]
        gone = truth.meta["belt_speed_mps"] * (times[later] - times[number])
        # The middle of a shoe is some 7 cm ahead of its ankle.
        ends = np.array(
            [[ankle[0] + 0.07, ankle[1], 0.03], [ankle[0] + 0.07 - gone, ankle[1], 0.03]]
        )
        seen = truth.camera.project(ends[None])[0]
        shares[spot.side.value].append(way / float(seen[1, 0] - seen[0, 0]))
    for side, some in shares.items():
        assert len(some) >= 20, side
        assert np.median(some) == pytest.approx(1.0, abs=0.015), side
        assert np.percentile(np.abs(np.array(some) - 1.0), 80) < 0.04, side
