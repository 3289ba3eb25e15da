"""Real runners, as captured or as the pose model saw them, and what a model does to their legs.

The files and their sources: ``people/README.md``. Trunk, head and arms of the captured ones are not
real: they were not captured, and are set over the hips, each arm in time with the other side's leg.
Landmarks of videos are looked for in the folder that PEOPLE_IN_VIDEOS names, if it is set.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline

from live.scene.view import ViewWatch
from shared.flow import FloatArray, Pose, Side, View
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.live.virtual_runner import HEIGHT_PX, LEGS, WIDTH_PX, project

FOLDER: Final = Path(__file__).parent / "people"
IN_VIDEOS: Final = os.environ.get("PEOPLE_IN_VIDEOS")
"""Folder of the landmarks of VIDEOS, which are not ours to pass on."""
START_NS: Final = 5 * NS_PER_S
JOG, JOG_FROM, JOG_TO = "jog_side_black_tights_25fps", 4, 98
VIDEOS: Final = {
    # View, frames a second, steps/min counted in the pictures. The last is 183 over the whole clip;
    # the 12 steps from frame 62 to 161, which can be measured, take 8.25 frames each.
    JOG: (View.SIDE, 25.0, 158.8),
    "run_side_50fps": (View.SIDE, 50.0, 171.5),
    "run_behind_25fps": (View.BEHIND, 25.0, 181.8),
}
CAPTURED: Final = ("rbds001_T25", "rbds001_T35", "ric_20140515")
NOISE_PX: Final = 2.0


@dataclass(frozen=True)
class Run:
    """A run as the pipeline sees it."""

    name: str
    view: View
    poses: list[Pose]
    cadence_spm: float
    contacts: list[tuple[int, Side]]
    """True ones, ns; empty where they were not captured."""


@cache
def seen(name: str, rounds: int = 1) -> Run:
    """One of VIDEOS; the jog may be repeated, since its last frame is followed by frame 4."""
    view, frames_per_s, cadence = VIDEOS[name]
    assert IN_VIDEOS is not None
    with np.load(Path(IN_VIDEOS) / f"{name}.npz") as kept:
        xy, visibility = kept["xy_px"].astype(np.float64), kept["visibility"].astype(np.float64)
        height, width = (int(side) for side in kept["height_width"])
    frames = list(range(len(xy)))
    if rounds > 1:
        assert name == JOG
        frames = [*range(JOG_TO), *list(range(JOG_FROM, JOG_TO)) * (rounds - 1)]
    poses = [
        Pose(
            captured_ns=START_NS + round(index / frames_per_s * NS_PER_S),
            index=index,
            width_px=width,
            height_px=height,
            xy_px=xy[frame],
            visibility=visibility[frame],
            people=int(np.isfinite(xy[frame]).any()),
        )
        for index, frame in enumerate(frames)
    ]
    return Run(name, view, poses, cadence, [])


@cache
def captured(name: str, view: View, frames_per_s: float = 30.0, duration_s: float = 11.5) -> Run:
    """One of CAPTURED before a pinhole camera, with white noise on every landmark."""
    with np.load(FOLDER / f"{name}.npz") as kept:
        metres = kept["tenths_mm"] / 1e4
        at = np.arange(len(metres)) * float(kept["step_s"])
        columns = {str(joint): i for i, joint in enumerate(kept["joints"])}
        contacts = [
            (START_NS + round(on * NS_PER_S), Side.LEFT if side == "l" else Side.RIGHT)
            for on, side in zip(kept["contact_s"].tolist(), kept["contact_side"], strict=True)
        ]
        cadence = float(kept["cadence_spm"])
    times = np.arange(0.0, min(duration_s, at[-1]), 1.0 / frames_per_s)
    joints = CubicSpline(at, metres)(times)
    xy = project(_landmarks({name: joints[:, i] for name, i in columns.items()}), view)
    xy += np.random.default_rng(0).normal(0.0, NOISE_PX, xy.shape)
    poses = [
        Pose(
            captured_ns=START_NS + round(second * NS_PER_S),
            index=index,
            width_px=WIDTH_PX,
            height_px=HEIGHT_PX,
            xy_px=xy[index],
            visibility=np.where(np.isfinite(xy[index, :, 0]), 0.9, 0.0),
            people=1,
        )
        for index, second in enumerate(times)
    ]
    return Run(f"{name}_{view}", view, poses, cadence, contacts)


def _landmarks(joints: dict[str, FloatArray]) -> FloatArray:
    """(n, 33, 3) m: forward, left, up."""
    hips = (joints["hip_l"] + joints["hip_r"]) / 2.0
    points = np.full((len(hips), LANDMARK_COUNT, 3), np.nan)
    neck = hips + np.array([0.06, 0.52, 0.0])
    for offset, (side, other, right) in enumerate((("l", "r", -1.0), ("r", "l", 1.0))):
        for landmark, joint in (
            (Lm.LEFT_HIP, "hip"),
            (Lm.LEFT_KNEE, "knee"),
            (Lm.LEFT_ANKLE, "ankle"),
            (Lm.LEFT_HEEL, "heel"),
            (Lm.LEFT_FOOT_INDEX, "toe"),
        ):
            points[:, landmark + offset] = joints[f"{joint}_{side}"]
        swing = joints[f"knee_{other}"][:, 0] - joints[f"hip_{other}"][:, 0]
        swing = (swing - swing.mean())[:, None]
        shoulder = neck + np.array([0.0, 0.0, 0.19 * right])
        points[:, Lm.LEFT_SHOULDER + offset] = shoulder
        elbow = np.array([-0.12, -0.27, 0.04 * right]) + swing * np.array([0.45, 0.0, 0.0])
        wrist = np.array([0.10, -0.28, 0.0]) + swing * np.array([0.75, 0.3, 0.0])
        points[:, Lm.LEFT_ELBOW + offset] = shoulder + elbow
        points[:, Lm.LEFT_WRIST + offset] = shoulder + wrist
        points[:, Lm.LEFT_EAR + offset] = neck + np.array([0.02, 0.24, 0.07 * right])
    points[:, Lm.NOSE] = neck + np.array([0.14, 0.22, 0.0])
    points[..., [0, 2]] -= hips[:, [0, 2]].mean(axis=0)
    forward, up, right_m = (points[..., axis] for axis in range(3))
    return np.stack([forward, -right_m, up], axis=-1)


def exchanged(pose: Pose) -> Pose:
    """The pose with the names of the legs exchanged."""
    xy, visibility = pose.xy_px.copy(), pose.visibility.copy()
    for left in LEGS:
        xy[[left, left + 1]] = xy[[left + 1, left]]
        visibility[[left, left + 1]] = visibility[[left + 1, left]]
    return replace(pose, xy_px=xy, visibility=visibility)


def spoilt(run: Run) -> Iterator[tuple[str, list[Pose]]]:
    """What a pose model may make of the legs' names, each with a word for it."""
    rng = np.random.default_rng(1)
    count = len(run.poses)
    view = ViewWatch()
    for pose in run.poses[:60]:
        view.add(pose.xy_px)
    left, right = (
        np.array([view.forward * pose.xy_px[ankle, 0] for pose in run.poses])
        for ankle in (Lm.LEFT_ANKLE, Lm.RIGHT_ANKLE)
    )
    ahead = np.nan_to_num(right - left)
    changes = np.cumsum(rng.random(count) < 0.15)
    for name, wrong in (
        ("at random, frame by frame", rng.random(count) < 0.5),
        ("at random, in runs", changes % 2 == 1),
        ("always as the right leg reaches forward", ahead > 0.25 * np.abs(ahead).max()),
        ("the front one is left", ahead > 0.0),
        ("in all frames", np.ones(count, dtype=bool)),
        ("from the middle on", np.arange(count) > count // 2),
    ):
        yield (
            name,
            [
                exchanged(pose) if off else pose
                for pose, off in zip(run.poses, wrong.tolist(), strict=True)
            ],
        )
