"""The truth beside a clip: what it holds, how it is saved and loaded. README.md lists every key.

Axes in the file: (forward, right, up) in metres, origin on the belt under the runner's mean place.
"""

import json
import lzma
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

FORMAT = "rendered-runner-truth/2"
TENTHS_OF_MM = 10_000
"""In a metre."""
PAIRED = ("hip", "knee", "ankle", "heel", "ball", "toe", "shoulder", "elbow", "wrist")
JOINTS = (*(f"{side}_{joint}" for joint in PAIRED for side in ("left", "right")), "head", "nose")


@dataclass(frozen=True)
class TruthCamera:
    """A pinhole with one radial term. `axes` rows: picture right, down, into the scene."""

    fx: float
    fy: float
    cx: float
    cy: float
    width: int
    height: int
    k1: float
    position_m: Floats
    axes: Floats

    def project(self, points_m: Floats) -> Floats:
        """Points (..., 3) m, (forward, right, up), to pixels (..., 2)."""
        local = (np.asarray(points_m) - self.position_m) @ self.axes.T
        flat = local[..., :2] / local[..., 2:]
        flat = flat * (1 + self.k1 * (flat**2).sum(axis=-1, keepdims=True))
        return np.asarray(flat * (self.fx, self.fy) + (self.cx, self.cy))


@dataclass(frozen=True)
class Truth:
    """One clip's truth. `frame_time_s` (n,), `joints_m` (n, 20, 3); the rest as in the file."""

    meta: dict[str, Any]
    camera: TruthCamera
    frame_time_s: Floats
    joints_m: Floats
    events: list[dict[str, Any]]
    steps: list[dict[str, Any]]
    strides: list[dict[str, Any]]
    means: dict[str, dict[str, float]]

    def joint_index(self, name: str) -> int:
        return JOINTS.index(name)

    def joint(self, name: str) -> Floats:
        """One joint over the frames (n, 3) m."""
        return self.joints_m[:, JOINTS.index(name)]

    @property
    def pixels(self) -> Floats:
        """Every joint in every frame's picture (n, 20, 2)."""
        return self.camera.project(self.joints_m)


def save_truth(path: Path, truth: Truth, joints: tuple[str, ...] = JOINTS) -> None:
    """Write a truth as JSON packed by xz, the same bytes for the same truth.

    With fewer ``joints`` the file is smaller; the others are NaN when it is loaded.
    """
    chosen = truth.joints_m[:, [JOINTS.index(name) for name in joints]].reshape(-1, 3 * len(joints))
    places = np.round(TENTHS_OF_MM * chosen).astype(int)
    # Limbs move evenly, so that from frame to frame their speed changes little: that packs well.
    changes = np.diff(places, n=2, axis=0, prepend=np.zeros_like(places[:2]))
    camera = truth.camera
    content = {
        "format": FORMAT,
        "meta": truth.meta,
        "camera": {
            "fx": camera.fx,
            "fy": camera.fy,
            "cx": camera.cx,
            "cy": camera.cy,
            "width": camera.width,
            "height": camera.height,
            "k1": camera.k1,
            "position_m": camera.position_m.tolist(),
            "axes": camera.axes.tolist(),
        },
        "frame_time_s": np.round(truth.frame_time_s, 6).tolist(),
        "joint_names": list(joints),
        "joints_speed_changes": changes.T.tolist(),
        "events": truth.events,
        "steps": truth.steps,
        "strides": truth.strides,
        "means": truth.means,
    }
    text = json.dumps(content, separators=(",", ":")).encode()
    path.write_bytes(lzma.compress(text, preset=9 | lzma.PRESET_EXTREME))


def load_truth(path: str | Path) -> Truth:
    """Read a truth file. Raises ValueError for another format."""
    content = json.loads(lzma.decompress(Path(path).read_bytes()))
    if content.get("format") != FORMAT:
        raise ValueError(f"{path} is not a {FORMAT} file")
    camera = dict(content["camera"])
    camera["position_m"] = np.array(camera["position_m"])
    camera["axes"] = np.array(camera["axes"])
    speeds = np.cumsum(content["joints_speed_changes"], axis=1)
    places = np.cumsum(speeds, axis=1).T.reshape(speeds.shape[1], -1, 3)
    joints_m = np.full((len(places), len(JOINTS), 3), np.nan)
    joints_m[:, [JOINTS.index(name) for name in content["joint_names"]]] = places / TENTHS_OF_MM
    return Truth(
        content["meta"],
        TruthCamera(**camera),
        np.array(content["frame_time_s"]),
        joints_m,
        content["events"],
        content["steps"],
        content["strides"],
        content["means"],
    )
