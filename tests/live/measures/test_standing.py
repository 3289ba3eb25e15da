"""Quiet standing before the run, on an ideal runner with noisy landmarks."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from live.measures.standing import LEAST_S, QuietStanding, StandingWatch
from live.pipeline import Pipeline, Setup
from shared.flow import Pose, Side, Update, View
from shared.landmarks import Landmark as Lm
from tests.live.virtual_runner import Spoil, nobody, take, without
from tests.rendered.body import load_body
from tests.rendered.params import RunnerParams

NOISE = Spoil(noise_px=1.0)
STAND_S = 3.0


def poses(view: View = View.SIDE, seconds: float = 3.0, ahead_m: float = 0.0) -> list[Pose]:
    params = RunnerParams(stand_s=STAND_S, stand_hips_ahead_m=ahead_m, start_s=1.5)
    return take(params, view, seconds, spoil=NOISE).poses


def watched(seen: list[Pose], view: View = View.SIDE) -> QuietStanding | None:
    watch = StandingWatch(view)
    for pose in seen:
        watch.add(pose, view)
    return watch.standing


def measured(seen: list[Pose]) -> tuple[Pipeline, list[Update]]:
    pipeline = Pipeline(Setup(View.SIDE, height_m=1.66, belt_speed_mps=2.8))
    return pipeline, [pipeline.update(pose) for pose in seen]


@pytest.mark.parametrize("view", View)
def test_standing_is_seen_from_every_view_once_it_has_lasted(view: View) -> None:
    seen = poses(view)
    short = [p for p in seen if (p.captured_ns - seen[0].captured_ns) / 1e9 < LEAST_S - 0.1]
    assert watched(short, view) is None
    found = watched(seen, view)
    assert found is not None
    assert found.seconds == pytest.approx(STAND_S, abs=0.1)
    body = load_body("female")
    joints = body.thigh_m + body.shank_m
    shoulders = found.trunk_px / found.leg_px * joints
    assert shoulders == pytest.approx(
        body.rest("left_shoulder")[2] - body.rest("left_hip")[2], rel=0.08
    )


@pytest.mark.parametrize("ahead_m", [0.0, 0.06])
def test_the_shank_is_read_as_it_stands(ahead_m: float) -> None:
    """A straight leg leans by the hips' way ahead over its length, and a little for the knee."""
    found = watched(poses(ahead_m=ahead_m))
    assert found is not None
    assert found.shank_deg is not None
    body = load_body("female")
    lean = math.degrees(math.asin(ahead_m / (body.thigh_m + body.shank_m)))
    assert found.shank_deg == pytest.approx(3.6 + lean, abs=0.7)


def test_no_angles_are_read_but_from_the_side() -> None:
    found = watched(poses(View.BEHIND), View.BEHIND)
    assert found is not None
    assert found.shank_deg is None
    assert found.long_legs == 1.0


def test_running_and_walking_on_are_not_standing() -> None:
    running = take(RunnerParams(start_s=0.0), View.SIDE, 6.0, spoil=NOISE).poses
    assert watched(running) is None
    both = poses(seconds=9.0)
    found = watched(both)
    assert found is not None
    alone = watched([p for p in both if (p.captured_ns - both[0].captured_ns) / 1e9 < STAND_S])
    assert alone is not None
    assert found.shank_deg == pytest.approx(alone.shank_deg, abs=0.5)


def test_a_crouch_a_lean_and_a_split_stance_are_not_quiet_standing() -> None:
    def moved(pose: Pose, landmarks: list[Lm], x: float) -> Pose:
        points = pose.xy_px.copy()
        points[landmarks, 0] += x
        return replace(pose, xy_px=points)

    upper = [lm for lm in Lm if lm < Lm.LEFT_HIP]
    knees = [Lm.LEFT_KNEE, Lm.RIGHT_KNEE]
    foot = [Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX]
    for landmarks, x in ((upper, 40.0), (knees, 30.0), (foot, 50.0)):
        assert watched([moved(pose, landmarks, x) for pose in poses()]) is None


def test_a_body_cut_off_or_gone_or_seen_from_elsewhere_does_not_count() -> None:
    seen = poses()
    assert watched([without(pose, [Lm.LEFT_ANKLE]) for pose in seen]) is None
    assert watched([nobody(pose) for pose in seen]) is None
    assert watched([replace(pose, people=2) for pose in seen]) is None
    watch = StandingWatch(View.SIDE)
    for pose in seen:
        watch.add(pose, View.FRONT)
    assert watch.standing is None
    # A second person for one frame breaks the stretch: neither part is long enough.
    broken = [replace(p, people=2) if i == 45 else p for i, p in enumerate(seen)]
    assert watched(broken[:85]) is None


def test_the_pipeline_says_whether_standing_was_seen_and_measures_from_it() -> None:
    """Twice the same run; hips 6 cm further ahead in standing are 4 degrees at the ankle."""
    peaks = {}
    for ahead_m in (0.0, 0.06):
        pipeline, updates = measured(poses(seconds=12.0, ahead_m=ahead_m))
        assert pipeline.standing is not None
        peaks[ahead_m] = np.mean(
            [
                m.value
                for u in updates
                for m in u.measures
                if m.name == "ankle_dorsiflexion_peak" and m.side is Side.RIGHT
            ]
        )
    assert peaks[0.0] - peaks[0.06] == pytest.approx(4.1, abs=0.6)


def test_without_standing_the_typical_values_stand_in() -> None:
    running = take(RunnerParams(start_s=0.0), View.SIDE, 8.0, spoil=NOISE).poses
    pipeline, updates = measured(running)
    assert pipeline.standing is None
    assert any(m.name == "ankle_dorsiflexion_peak" for u in updates for m in u.measures)
