"""The belt's ends as lines: from the side, and from behind against cameras whose place is known."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from feedback.camera_check.remembered_place import belt_of
from feedback.screens.camera_check.belt_lines import (
    EDGE,
    FLOOR_BELOW,
    LEAST_APART,
    BeltLines,
    BodyGauge,
    BodyInPicture,
    at_rim,
    ends_seen,
    first_lines,
    moved,
    to_edges,
    to_lines,
)
from live.scene.posture import Posture
from shared.flow import View
from shared.pictures import BeltEdges
from tests.accuracy.tracks import clips, name_of, poses_of, tracks, truth_of
from tests.rendered.cases import BY_LANDMARKS

TRUNK_M = 0.5
FOCAL = 1.5
"""In heights of the picture."""


def body_at(distance_m: float, camera_m: float, hips_m: float = 0.92) -> BodyInPicture:
    """A runner so far away, seen by a level camera of that height."""
    middle = 0.5
    return BodyInPicture(
        trunk=FOCAL * TRUNK_M / distance_m,
        hips_y=middle + FOCAL * (camera_m - hips_m) / distance_m,
        soles_y=middle + FOCAL * (camera_m - FLOOR_BELOW[View.BEHIND] * TRUNK_M) / distance_m,
        facing=1.0,
    )


def floor_at(distance_m: float, camera_m: float) -> float:
    return 0.5 + FOCAL * camera_m / distance_m


@pytest.mark.parametrize("camera_m", [0.92, 0.75, 1.1])
def test_floor_lines_become_the_trunks_length_there(camera_m: float) -> None:
    body = body_at(3.4, camera_m)
    lines = BeltLines(floor_at(3.0, camera_m), floor_at(4.0, camera_m))
    edges = to_edges(lines, View.BEHIND, body)
    assert edges is not None
    for share, distance_m in ((edges.rear, 3.0), (edges.front, 4.0)):
        found_m = FOCAL * TRUNK_M / share
        # As stated: exact for a camera as high as the hips, else off by the same share of the way.
        off_m = abs(distance_m - 3.4) * abs(camera_m - 0.92) / camera_m * 1.5
        assert found_m == pytest.approx(distance_m, abs=0.01 + off_m)


def test_lines_come_back_from_their_edges() -> None:
    body = body_at(3.4, 0.95)
    lines = BeltLines(0.97, 0.88)
    edges = to_edges(lines, View.BEHIND, body)
    assert edges is not None
    back = to_lines(edges, View.BEHIND, body)
    assert back is not None
    assert (back.rear, back.front) == pytest.approx((lines.rear, lines.front), abs=1e-3)
    assert to_lines(BeltEdges(rear=0.2, front=0.8), View.SIDE, None) == BeltLines(0.2, 0.8)


def test_nothing_is_made_up_without_a_body() -> None:
    assert to_edges(BeltLines(0.9, 0.8), View.BEHIND, None) is None
    assert to_lines(BeltEdges(rear=0.26, front=0.2), View.FRONT, None) is None
    assert to_edges(BeltLines(0.9, 0.8), View.BEHIND, BodyInPicture(0.2, 0.9, 0.91, 1.0)) is None
    assert to_edges(BeltLines(0.2, 0.8), View.SIDE, None) == BeltEdges(rear=0.2, front=0.8)


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("facing", [-1.0, 1.0])
def test_the_first_lines_can_be_told_apart_and_lie_the_right_way(view: View, facing: float) -> None:
    body = BodyInPicture(0.22, 0.52, 0.9, facing)
    for seen in (None, body):
        lines = first_lines(view, seen)
        assert min(lines.rear, lines.front) >= EDGE
        assert max(lines.rear, lines.front) <= 1 - EDGE
        assert abs(lines.rear - lines.front) >= LEAST_APART
    edges = to_edges(first_lines(view, body), view, body)
    assert edges is not None
    belt = belt_of(view, edges)
    assert belt is not None
    if view is View.SIDE:
        assert (edges.rear < edges.front) is (facing > 0)
    else:
        assert (edges.rear > edges.front) is (view is View.BEHIND)
        assert 0.0 < belt.left_behind(body.trunk) < 1.0, "the runner stands between them"


def test_lines_never_meet_nor_leave_the_picture() -> None:
    rng = np.random.default_rng(7)
    lines = BeltLines(0.2, 0.8)
    for _ in range(2000):
        lines = moved(lines, bool(rng.integers(2)), float(rng.uniform(-0.2, 1.2)))
        assert abs(lines.rear - lines.front) >= LEAST_APART - 1e-9
        assert EDGE <= lines.rear <= 1 - EDGE
        assert EDGE <= lines.front <= 1 - EDGE


def test_one_line_hops_over_the_other() -> None:
    lines = BeltLines(0.5, 0.6)
    for _ in range(5):
        lines = moved(lines, True, lines.rear + 0.01)
    assert lines.rear == pytest.approx(0.65)
    assert moved(BeltLines(0.94, 0.99), True, 0.95) == BeltLines(0.94, 0.99), "no room behind it"


def test_the_body_is_a_median_and_unknown_landmarks_are_left_out() -> None:
    gauge = BodyGauge()
    gauge.add((), 4 / 3)
    gauge.add((-1.0,) * 66, 4 / 3)
    nothing = gauge.body
    assert nothing is None
    points = np.full((33, 2), 0.5)
    points[[11, 12], 1], points[[23, 24], 1] = 0.3, 0.52
    points[[29, 30], 1], points[[31, 32], 1] = 0.88, 0.9
    points[[29, 30], 0], points[[31, 32], 0] = 0.48, 0.44
    for wild in (0.0, 0.0, 0.3):
        shaken = points.copy()
        shaken[[23, 24], 1] += wild
        gauge.add(tuple(float(v) for v in shaken.ravel()), 4 / 3)
    body = gauge.body
    assert body
    assert body.trunk == pytest.approx(0.22)
    assert (body.hips_y, body.soles_y, body.facing) == (0.52, 0.9, -1.0)


def test_left_behind_grows_with_the_way_from_the_rear_end() -> None:
    body = body_at(3.4, 0.92)
    edges = to_edges(BeltLines(floor_at(3.0, 0.92), floor_at(4.2, 0.92)), View.BEHIND, body)
    assert edges is not None
    belt = belt_of(View.BEHIND, edges)
    assert belt is not None
    shares = [belt.left_behind(FOCAL * TRUNK_M / at) for at in (3.0, 3.3, 3.6, 3.9, 4.2)]
    assert shares == pytest.approx([0.0, 0.25, 0.5, 0.75, 1.0], abs=0.01)
    assert all(one < other for one, other in pairwise(shares))


REAR_M, FRONT_M = -0.85, 0.72
"""The drawn belt's ends (tests.rendered.room)."""


def errors(clip: Path, from_s: float) -> tuple[float, float]:
    """How wrong the place on the belt is told while running, mean and SD, shares of the belt."""
    truth = truth_of(clip)
    view = View(truth.meta["view"])
    ends = truth.camera.project(np.array([[REAR_M, 0.0, 0.0], [FRONT_M, 0.0, 0.0]]))
    lines = BeltLines(*(ends[:, 1] / truth.camera.height))
    poses = poses_of(clip)
    gauge = BodyGauge()
    first = round(from_s * float(truth.meta["fps"]))
    for pose in poses[first : first + 45]:
        shares = pose.xy_px / (pose.width_px, pose.height_px)
        gauge.add(tuple(float(v) for v in shares.ravel()), pose.width_px / pose.height_px)
    edges = to_edges(lines, view, gauge.body)
    assert edges is not None
    belt = belt_of(view, edges)
    assert belt is not None
    hips_m = (truth.joint("left_hip") + truth.joint("right_hip"))[:, 0] / 2
    posture = Posture(view)
    told = []
    start = round((float(truth.meta["running_from_s"]) + 2) * float(truth.meta["fps"]))
    for index in range(start, min(start + 150, len(hips_m))):
        place = posture.place(poses[index])
        if place is not None:
            true = (hips_m[index] - REAR_M) / (FRONT_M - REAR_M)
            told.append(belt.left_behind(place) - true)
    return float(np.mean(told)), float(np.std(told))


@pytest.mark.model
def test_the_place_on_the_belt_is_told_from_behind_and_in_front() -> None:
    found = {}
    for clip in (*clips(), *(track for track in tracks() if name_of(track) in BY_LANDMARKS)):
        meta = truth_of(clip).meta
        if meta["view"] != "side":
            name = name_of(clip)
            found[name] = errors(clip, float(meta["running_from_s"]) + 2.0)
            if meta["standing"] is not None:
                found[f"{name} standing"] = errors(clip, float(meta["standing"][0]) + 0.5)
    assert len(found) >= 18
    assert max(abs(mean) for mean, _ in found.values()) < 0.12, found
    behind = [mean for name, (mean, _) in found.items() if name.startswith("behind")]
    assert np.mean(behind) < 0.0, "rather warned too early"
    assert max(sd for _, sd in found.values()) < 0.06, found


@pytest.mark.parametrize("at", [0.0, EDGE, 0.985, 1 - EDGE, 1.0])
def test_a_line_at_the_pictures_edge_is_no_end_of_the_belt(at: float) -> None:
    for rear in (True, False):
        lines = BeltLines(at, 0.5) if rear else BeltLines(0.5, at)
        assert at_rim(lines)
        if at:
            assert not ends_seen(BeltEdges(rear=lines.rear, front=lines.front), View.SIDE)
    assert not at_rim(BeltLines(0.02, 0.98))
    assert ends_seen(BeltEdges(rear=0.98, front=0.02), View.SIDE)
    assert ends_seen(BeltEdges(rear=1.0, front=0.3), View.BEHIND), "a length, not a place"
