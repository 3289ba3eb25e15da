"""The rendered runner's feet: on the belt they go with it, off it they stay clear of it."""

import numpy as np
import pytest

from tests.rendered import measure
from tests.rendered.gait import Gait, make_gait
from tests.rendered.test_gait import RUNNERS
from tests.rendered.truth import JOINTS

SECONDS, STEP_S = 4.0, 0.0005
TOUCHING_M = 0.0003


@pytest.fixture(scope="module", params=RUNNERS.values(), ids=list(RUNNERS))
def gait(request: pytest.FixtureRequest) -> Gait:
    return make_gait(request.param, SECONDS)


def soles(gait: Gait, t: np.ndarray) -> dict[str, np.ndarray]:
    """Heel, ball and toe of each side (n, 3, 3) m, as the truth file gives them."""
    joints = measure.file_joints(gait.body, gait.motion(t))
    return {
        side: joints[:, [JOINTS.index(f"{side}_{p}") for p in ("heel", "ball", "toe")]]
        for side in ("left", "right")
    }


def test_no_point_of_the_sole_sinks_into_the_belt(gait: Gait) -> None:
    for sole in soles(gait, np.arange(0, SECONDS, 0.001)).values():
        assert sole[..., 2].min() > -0.0002


def test_what_touches_the_belt_goes_with_it(gait: Gait) -> None:
    assert stances_that_keep_to_the_belt(gait, np.arange(0, SECONDS, STEP_S)) > 10


def stances_that_keep_to_the_belt(gait: Gait, t: np.ndarray) -> int:
    """See that each sole point that touches the belt goes with it; how many there were."""
    checked = 0
    for side, sole in soles(gait, t).items():
        for step in (s for s in measure.steps(gait, SECONDS) if s["side"] == side):
            stance = (t > step["contact_s"]) & (t < step["toe_off_s"])
            for point in range(3):
                place = sole[stance, point]
                touching = place[:, 2] < TOUCHING_M
                if touching.sum() < 10:
                    continue
                on_belt = place[touching, 0] + gait.params.belt_speed_mps * t[stance][touching]
                assert np.ptp(on_belt) < 0.001
                assert np.ptp(place[touching, 1]) < 0.001
                checked += 1
    return checked


def test_some_point_touches_all_through_stance(gait: Gait) -> None:
    t = np.arange(0, SECONDS, 0.002)
    for side, sole in soles(gait, t).items():
        lowest = sole[..., 2].min(axis=1)
        for step in (s for s in measure.steps(gait, SECONDS) if s["side"] == side):
            stance = (t >= step["contact_s"]) & (t <= step["toe_off_s"])
            assert lowest[stance].max() < 0.0005


def test_contact_is_the_first_touch_and_toe_off_the_last(gait: Gait) -> None:
    for event in measure.events(gait, SECONDS):
        at = event["time_s"] + np.array([-0.010, -0.002, 0.0, 0.002, 0.010])
        lowest = soles(gait, at)[event["side"]][..., 2].min(axis=1)
        assert lowest[2] == pytest.approx(0.0, abs=0.0001)
        if event["kind"] == "contact":
            assert lowest[0] > lowest[1] > 0.0003
            assert lowest[3] < 0.0001
        else:
            assert lowest[1] < 0.0001
            assert lowest[4] > 0.0001


def test_drawn_sole_agrees_with_the_contact_points(gait: Gait) -> None:
    from tests.rendered.body import skinned
    from tests.rendered.pose import skeleton

    t = np.arange(0, 0.8, 0.01)
    motion = gait.motion(t)
    rotations, positions = skeleton(gait.body, motion)
    for side, sign in (("left", 1), ("right", -1)):
        mine = gait.body.shoes.vertices[:, 1] * sign > 0
        for k in np.flatnonzero(motion.legs[side].on_belt):
            shoe, _ = skinned(gait.body.shoes, gait.body.joints, rotations[k], positions[k])
            assert -0.002 < shoe[mine, 2].min() < 0.002
