"""The run and walk clips of the pybullet package: a motion that nobody here has made.

The clips lie in the installed ``pybullet_data`` (zlib licence) and are read from there: 44 numbers
a frame (duration, pelvis position, then joint turns as quaternions w x y z or single angles; x
forward, y up, z to the body's right). The body's sizes come from the humanoid of the same package.
"""

from __future__ import annotations

import importlib.util
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final
from xml.etree import ElementTree as ET

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.spatial.transform import Rotation

from shared.flow import FloatArray, Pose, View
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm
from tests.live.virtual_runner import HEIGHT_PX, WIDTH_PX, project

SCALE: Final = 0.25
"""The humanoid is written four times life size."""
COLUMNS: Final = {
    "chest": slice(8, 12),
    "neck": slice(12, 16),
    "right_hip": slice(16, 20),
    "right_knee": slice(20, 21),
    "right_ankle": slice(21, 25),
    "right_shoulder": slice(25, 29),
    "right_elbow": slice(29, 30),
    "left_hip": slice(30, 34),
    "left_knee": slice(34, 35),
    "left_ankle": slice(35, 39),
    "left_shoulder": slice(39, 43),
    "left_elbow": slice(43, 44),
}
HEAD_CENTRE: Final = np.array([0.0, 0.70, 0.0]) * SCALE
HEAD_RADIUS: Final = 0.41 * SCALE
"""The head's sphere over the neck joint, from the humanoid file."""
SOLE: Final = np.array([0.18, -0.20, 0.0]) * SCALE
HALF_SOLE: Final = np.array([0.354, 0.0, 0.0]) * SCALE
"""Middle and half length of the underside of the foot's box, from the humanoid file."""
HEIGHT_M: Final = 1.62
"""Sole to crown of that humanoid standing, its parts added up."""
START_NS: Final = 5_000_000_000


@dataclass(frozen=True)
class Clip:
    """One stride, fit to be repeated for ever."""

    stride_s: float
    travel_m: float
    """Forward in one stride."""
    frames: FloatArray
    """(n + 1, 44); the last frame is the first one again, further on."""

    @property
    def speed_mps(self) -> float:
        """Mean forward speed: that of the belt which keeps this body in place."""
        return self.travel_m / self.stride_s

    @property
    def cadence_spm(self) -> float:
        """Two steps in one stride."""
        return 120.0 / self.stride_s


def data_folder() -> Path | None:
    """Where the package keeps its data; None when it is not installed."""
    spec = importlib.util.find_spec("pybullet_data")
    return None if spec is None or spec.origin is None else Path(spec.origin).parent


@cache
def load(name: str) -> Clip:
    """Read ``run`` or ``walk``."""
    folder = data_folder()
    assert folder is not None
    text = (folder / "data" / "motions" / f"humanoid3d_{name}.txt").read_text(encoding="utf-8")
    frames = np.array(json.loads(text)["Frames"], dtype=float)
    # A frame lasts until the next one; the last one only closes the loop.
    return Clip(
        stride_s=float(frames[:-1, 0].sum()),
        travel_m=float(frames[-1, 1] - frames[0, 1]),
        frames=frames,
    )


def joints(frames: FloatArray) -> dict[str, tuple[FloatArray, Rotation]]:
    """Each joint's place (n, 3) m and turn in the clip's own axes; ``frames`` (n, 44)."""
    root = frames[:, 1:4], _turn(frames[:, 4:8])
    found: dict[str, tuple[FloatArray, Rotation]] = {"root": root}
    for name, (parent, offset) in _skeleton().items():
        place, turn = found[parent]
        own = _turn(frames[:, COLUMNS[name]]) if name in COLUMNS else Rotation.identity()
        found[name] = place + turn.apply(offset), turn * own
    return found


def landmarks(clip: Clip, times_s: FloatArray) -> FloatArray:
    """(n, 33, 3) m: forward, left, up, on a belt that takes the mean speed away."""
    here = joints(clip.frames)
    points = np.full((len(clip.frames), LANDMARK_COUNT, 3), np.nan)
    for offset, side in enumerate(("left", "right")):
        for landmark, joint in (
            (Lm.LEFT_SHOULDER, "shoulder"),
            (Lm.LEFT_ELBOW, "elbow"),
            (Lm.LEFT_WRIST, "wrist"),
            (Lm.LEFT_HIP, "hip"),
            (Lm.LEFT_KNEE, "knee"),
            (Lm.LEFT_ANKLE, "ankle"),
        ):
            points[:, landmark + offset] = here[f"{side}_{joint}"][0]
        ankle, turn = here[f"{side}_ankle"]
        points[:, Lm.LEFT_HEEL + offset] = ankle + turn.apply(SOLE - HALF_SOLE)
        points[:, Lm.LEFT_FOOT_INDEX + offset] = ankle + turn.apply(SOLE + HALF_SOLE)
    neck, turn = here["neck"]
    points[:, Lm.NOSE] = neck + turn.apply([HEAD_RADIUS, *HEAD_CENTRE[1:]])
    points[:, Lm.LEFT_EAR] = neck + turn.apply([*HEAD_CENTRE[:2], -HEAD_RADIUS])
    points[:, Lm.RIGHT_EAR] = neck + turn.apply([*HEAD_CENTRE[:2], HEAD_RADIUS])
    known = np.isfinite(points[0, :, 0])
    at = np.concatenate([[0.0], np.cumsum(clip.frames[:-1, 0])])
    points[..., 0] -= (clip.speed_mps * at)[:, None]
    loop = points[:, known]
    loop[-1] = loop[0]
    out = np.full((len(times_s), LANDMARK_COUNT, 3), np.nan)
    out[:, known] = CubicSpline(at, loop, bc_type="periodic")(times_s)
    forward, up, right = (out[..., axis] for axis in range(3))
    return np.stack([forward, -right, up], axis=-1)


def poses(
    clip: Clip, view: View, duration_s: float, frames_per_s: float = 30.0, noise_px: float = 2.0
) -> list[Pose]:
    """What a camera would see, with white noise on every landmark."""
    times = np.arange(0.0, duration_s, 1.0 / frames_per_s)
    xy = project(landmarks(clip, times), view)
    xy += np.random.default_rng(0).normal(0.0, noise_px, xy.shape)
    return [
        Pose(
            captured_ns=START_NS + int(at * 1e9),
            index=index,
            width_px=WIDTH_PX,
            height_px=HEIGHT_PX,
            xy_px=xy[index],
            visibility=np.where(np.isfinite(xy[index, :, 0]), 0.9, 0.0),
            people=1,
        )
        for index, at in enumerate(times)
    ]


def _turn(columns: FloatArray) -> Rotation:
    """Turns from quaternions (n, 4) w x y z, or from angles (n, 1) rad about z."""
    if columns.shape[1] == 1:
        return Rotation.from_rotvec(columns * [0.0, 0.0, 1.0])
    return Rotation.from_quat(columns, scalar_first=True)


@cache
def _skeleton() -> dict[str, tuple[str, FloatArray]]:
    """Joint -> (joint before it, offset from there in m), in an order that can be walked."""
    folder = data_folder()
    assert folder is not None
    text = (folder / "humanoid" / "humanoid.urdf").read_text(encoding="utf-8")
    # The file ends with a NUL, which is no XML.
    tree = ET.fromstring(text.rstrip("\0"))  # noqa: S314 - from an installed package
    bones = {}
    for joint in tree.iter("joint"):
        parent, child, origin = (joint.find(tag) for tag in ("parent", "child", "origin"))
        assert parent is not None
        assert child is not None
        assert origin is not None
        if child.attrib["link"] != "root":
            offset = np.array([float(number) for number in origin.attrib["xyz"].split()])
            bones[child.attrib["link"]] = parent.attrib["link"], offset * SCALE
    return bones
