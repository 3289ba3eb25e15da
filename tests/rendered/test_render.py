"""The drawing: the runner appears where the truth's camera says."""

import numpy as np
import pytest

pytest.importorskip("moderngl")

from tests.rendered.camera import View, make_camera
from tests.rendered.clip import Case, make_truth
from tests.rendered.gait import make_gait
from tests.rendered.params import RunnerParams
from tests.rendered.pose import skeleton
from tests.rendered.render import Look, Painter

VIEWS = {
    "side": View("side", "right", yaw_deg=12.0),
    "bent lens": View("side", "left", k1=-0.15, roll_deg=3.0),
    "behind": View("behind", height_m=1.0),
}
PLAIN = ("elbow", "knee", "ankle", "shoulder")


@pytest.mark.parametrize("name", VIEWS)
def test_joints_lie_on_the_drawn_runner(name: str) -> None:
    view, params = VIEWS[name], RunnerParams()
    gait, camera = make_gait(params, 1.0), make_camera(view)
    truth = make_truth(Case("one", params, view, duration_s=1.0), gait, camera)
    rotations, positions = skeleton(gait.body, gait.motion(truth.frame_time_s))
    painter = Painter(gait.body, camera, Look(console=False))
    frame = 10
    with_runner = painter.draw(rotations[frame], positions[frame], 0.0).astype(int)
    away = positions[frame] + np.array([0.0, 0.0, 50.0])
    without = painter.draw(rotations[frame], away, 0.0).astype(int)
    painter.close()
    drawn = np.abs(with_runner - without).sum(axis=2) > 24
    ys, xs = np.nonzero(drawn)
    pixels = truth.pixels[frame]
    for side in ("left", "right"):
        for joint in PLAIN:
            x, y = np.rint(pixels[truth.joint_index(f"{side}_{joint}")]).astype(int)
            assert drawn[y - 3 : y + 4, x - 3 : x + 4].any(), (side, joint)
    # The drawn figure ends where head and soles are; the shoes are orange, shadows are not.
    orange = (with_runner[..., 0] - with_runner[..., 2] > 90) & drawn
    assert np.nonzero(orange)[0].max() - pixels[:, 1].max() < 8
    assert ys.max() - pixels[:, 1].max() > -6
    assert 0 < pixels[truth.joint_index("head"), 1] - ys.min() < 45
    assert xs.min() - 12 < pixels[:, 0].min()
    assert pixels[:, 0].max() < xs.max() + 12


def test_pictures_of_one_moment_are_the_same() -> None:
    gait = make_gait(RunnerParams(), 1.0)
    rotations, positions = skeleton(gait.body, gait.motion(np.array([0.3])))
    pictures = []
    for _ in range(2):
        painter = Painter(gait.body, make_camera(View()), Look())
        pictures.append(painter.draw(rotations[0], positions[0], 0.1).copy())
        painter.close()
    assert np.array_equal(pictures[0], pictures[1])
