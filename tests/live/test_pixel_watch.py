"""The look at pictures: only two that belong together are laid over each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from live.measures.belt_speed import Spot
from live.pipeline import Pipeline, Setup
from live.pixel_watch import PictureWatch, keep_of
from live.pixels.hips import HipsCut
from live.pixels.patches import Cut
from shared.flow import Frame, View
from tests.live.pixels.test_hips import cut, pose
from tests.live.pixels.test_hips import moved as moved_body
from tests.live.pixels.test_shoe import SPOT, strip
from tests.live.pixels.test_shoe import moved as moved_shoe


class Asked(Pipeline):
    """Knows what it is told, and keeps the ways that it is told."""

    def __init__(
        self, view: View, spots: list[Spot | None] | None = None, last_ns: tuple[int, int] = (0, 0)
    ) -> None:
        super().__init__(Setup(view))
        self.spots, self.last_ns, self.ways = spots or [], last_ns, list[float]()

    def standing_shoe(self) -> Spot | None:
        return self.spots.pop(0)

    def shoe_went(self, spot: Spot, way_px: float) -> None:
        self.ways.append(way_px)

    def last_two_ns(self) -> tuple[int, int] | None:
        return self.last_ns

    def hips_went(self, way_px: float) -> None:
        self.ways.append(way_px)


def test_the_shoe_is_looked_for_only_in_the_two_pictures_that_the_spot_is_about() -> None:
    before, now = moved_shoe(-25.4)
    spots = [replace(SPOT, before_ns=1, now_ns=2), None, replace(SPOT, before_ns=1)]
    pipeline = Asked(View.SIDE, spots)
    watch = PictureWatch(pipeline)
    assert watch.see(strip(before, 1)) is None
    assert watch.see(strip(now, 2)) == pytest.approx(-25.4, abs=0.2)
    assert watch.see(None) is None
    assert watch.see(strip(before, 3)) is None  # the picture before it had no strip
    assert watch.see(strip(now, 33)) is None  # nothing stands
    assert watch.see(strip(now, 34)) is None  # a frame lies between the two
    assert len(pipeline.ways) == 1


def test_the_hips_are_followed_only_between_the_last_two_frames_with_a_runner() -> None:
    before, now = moved_body(4.3, 0.0, 3)
    pipeline = Asked(View.BEHIND, last_ns=(1, 2))
    watch = PictureWatch(pipeline)
    assert watch.see(cut(before, 1, 320.0, 250.0)) is None
    assert watch.see(cut(now, 2, 324.0, 250.0)) == pytest.approx(4.3, abs=0.2)
    assert watch.see(None) is None
    assert watch.see(cut(now, 2, 324.0, 250.0)) is None  # the picture before it was not kept
    assert watch.see(cut(now, 3, 324.0, 250.0)) is None  # the runner was not seen in one of them
    assert len(pipeline.ways) == 1


def test_each_view_has_its_own_part_of_the_picture() -> None:
    frame = Frame(np.zeros((480, 640, 3), np.uint8), 0, 0)
    standing = pose(320.0, 250.0)
    standing.xy_px[25:27, 1] = 350.0
    standing.xy_px[27:, 1] = 430.0
    assert isinstance(keep_of(frame, standing, View.SIDE), Cut)
    assert isinstance(keep_of(frame, standing, View.BEHIND), HipsCut)
    assert keep_of(frame, standing, View.FRONT) is None
