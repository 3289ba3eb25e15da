"""The camera: where it stands, and from a point in the room to a pixel.

Axes: (forward, left, up) in the generator; `Camera.axes` rows are the picture's right, down and
into-the-scene directions.
"""

from dataclasses import dataclass

import numpy as np

from tests.rendered.body import Floats


@dataclass(frozen=True)
class View:
    """Where to film from. `yaw_deg` turns the stand around the runner: for a side view + is
    toward the runner's front; from behind and in front + is toward the runner's right."""

    view: str = "side"  # side, behind, front
    near_side: str = "right"  # for a side view
    distance_m: float = 3.4
    height_m: float = 0.95
    aim_height_m: float = 0.88
    yaw_deg: float = 0.0
    roll_deg: float = 0.0
    field_of_view_deg: float = 38.0  # up and down
    k1: float = 0.0
    width: int = 640
    height: int = 480


@dataclass(frozen=True)
class Camera:
    """A pinhole with one radial term: x_d = x (1 + k1 r^2), pixel = centre + focal x_d."""

    focal_px: float
    cx: float
    cy: float
    width: int
    height: int
    k1: float
    position_m: Floats
    axes: Floats

    def project(self, points: Floats) -> Floats:
        """Points (..., 3) m to pixels (..., 2)."""
        local = (points - self.position_m) @ self.axes.T
        flat = local[..., :2] / local[..., 2:]
        stretched = flat * (1 + self.k1 * (flat**2).sum(axis=-1, keepdims=True))
        return np.asarray(stretched * self.focal_px + (self.cx, self.cy))


def make_camera(view: View) -> Camera:
    """Stand the camera, level it but for its roll, and aim it at the runner's middle."""
    yaw = np.radians(view.yaw_deg)
    if view.view == "side":
        side = 1.0 if view.near_side == "left" else -1.0
        direction = np.array([np.sin(yaw), side * np.cos(yaw), 0.0])
    else:
        ahead = -1.0 if view.view == "behind" else 1.0
        direction = np.array([ahead * np.cos(yaw), -np.sin(yaw), 0.0])
    position = direction * view.distance_m + (0, 0, view.height_m)
    into = np.array([0, 0, view.aim_height_m]) - position
    into = into / np.linalg.norm(into)
    right = np.cross(into, (0.0, 0.0, 1.0))
    right = right / np.linalg.norm(right)
    down = np.cross(into, right)
    roll = np.radians(view.roll_deg)
    turned = np.cos(roll) * right + np.sin(roll) * down
    down = np.cos(roll) * down - np.sin(roll) * right
    focal = view.height / 2 / np.tan(np.radians(view.field_of_view_deg) / 2)
    return Camera(
        float(focal),
        view.width / 2,
        view.height / 2,
        view.width,
        view.height,
        view.k1,
        position,
        np.stack([turned, down, into]),
    )
