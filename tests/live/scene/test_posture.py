"""Raised hands, hips and place on an ideal runner with noisy landmarks, from every view."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from typing import Final

import numpy as np
import pytest

from feedback.safety.hazards import HIPS_DOWN
from live.scene.posture import Posture, box_of, hand_up
from shared.flow import Pose, View
from shared.landmarks import Landmark as Lm
from tests.live.virtual_runner import Spoil, nobody, take, without
from tests.rendered.params import Happening, RunnerParams

NOISE: Final = Spoil(noise_px=4.0)
UP = "hand_up"


def poses(*happenings: Happening, view: View = View.SIDE, seconds: float = 9.0) -> list[Pose]:
    return take(RunnerParams(happenings=happenings), view, seconds, spoil=NOISE).poses


def share_up(seen: list[Pose], from_s: float, to_s: float) -> float:
    start_ns = seen[0].captured_ns
    part = [p for p in seen if from_s <= (p.captured_ns - start_ns) / 1e9 < to_s]
    return sum(map(hand_up, part)) / len(part)


@pytest.mark.parametrize(("view", "side"), list(product(View, ["left", "right"])))
def test_either_hand_is_seen_from_every_view(view: View, side: str) -> None:
    seen = poses(Happening(UP, 5.0, 7.5, side), view=view)
    assert share_up(seen, 5.0, 7.4) > 0.85
    assert share_up(seen, 0.0, 4.5) == 0.0


@pytest.mark.parametrize(("view", "side"), list(product(View, ["left", "right"])))
def test_wiping_the_face_is_not_a_raised_hand(view: View, side: str) -> None:
    assert share_up(poses(Happening("face_wipe", 3.0, 7.5, side), view=view), 0.0, 9.0) == 0.0


@pytest.mark.parametrize("view", View)
def test_swinging_arms_are_not_raised_hands(view: View) -> None:
    assert share_up(poses(view=view), 0.0, 9.0) == 0.0


@pytest.mark.parametrize("view", View)
def test_hips_are_up_while_running_and_down_after_a_fall(view: View) -> None:
    posture = Posture(view)
    seen = [posture.hips_up(p) for p in poses(Happening("fall", 6.0, 9.0), view=view)]
    running = [h for h in seen[:180] if h is not None]
    down = [h for h in seen[205:235] if h is not None]
    assert len(running) > 160
    assert min(running) > HIPS_DOWN + 0.05
    assert max(down) < HIPS_DOWN - 0.02


@pytest.mark.parametrize(("view", "sign"), [(View.SIDE, -1), (View.BEHIND, 1), (View.FRONT, -1)])
def test_place_follows_a_runner_who_drifts_back(view: View, sign: int) -> None:
    """Back on the belt is to the left in this side view, nearer from behind, further in front."""
    posture = Posture(view)
    drift = Happening("drift_back", 4.0, 6.0, amount_m=0.6)
    seen = [p for pose in poses(drift, view=view) if (p := posture.place(pose)) is not None]
    before, after = float(np.median(seen[:100])), float(np.median(seen[200:]))
    assert sign * (after - before) > 0.015


def test_what_is_not_seen_is_not_judged() -> None:
    pose = poses(Happening(UP, 0.5, 1.5), seconds=2.0)[30]
    posture = Posture(View.SIDE)
    assert not hand_up(without(pose, [Lm.LEFT_WRIST, Lm.RIGHT_WRIST]))
    assert not hand_up(without(pose, [Lm.NOSE]))
    assert not hand_up(nobody(pose))
    assert posture.hips_up(nobody(pose)) is None
    assert posture.place(nobody(pose)) is None
    assert box_of(nobody(pose)) is None


def test_the_box_holds_the_body_in_shares_of_the_picture() -> None:
    pose = poses(seconds=1.0)[0]
    points = np.full_like(pose.xy_px, np.nan)
    points[Lm.NOSE], points[Lm.LEFT_ANKLE] = (320.0, 48.0), (352.0, 432.0)
    assert box_of(replace(pose, xy_px=points)) == pytest.approx((0.5, 0.1, 0.55, 0.9))
