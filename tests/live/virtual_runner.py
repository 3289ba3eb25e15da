"""A virtual runner for the pure core's tests: ideal landmarks of a known gait, spoilt on demand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from shared.flow import FloatArray, Pose, Side, View
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm
from tests.rendered.gait import Gait, make_gait
from tests.rendered.params import RunnerParams

WIDTH_PX, HEIGHT_PX = 640, 480
FOCAL_PX = 560.0
DISTANCE_M = 3.5
LEGS = (Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX)


@dataclass(frozen=True)
class Spoil:
    """What goes wrong between the runner and the landmarks."""

    noise_px: float = 2.0
    swap_near_contact: bool = False
    """Exchange the legs around each contact of the near foot, as the real model does."""
    aside_deg: float = 0.0
    """How far aside the camera looks: the runner faces so far to their left of it."""
    seed: int = 0


@dataclass(frozen=True)
class Take:
    """A run as the pipeline sees it, with the truth."""

    gait: Gait
    poses: list[Pose]
    start_ns: int

    def contacts(self) -> list[tuple[int, Side]]:
        """True contacts (ns on the poses' clock)."""
        line = self.gait.timeline
        return [
            (self.start_ns + int(at * 1e9), Side(side))
            for at, side in zip(line.contact_s, line.sides, strict=False)
        ]


def take(
    params: RunnerParams,
    view: View,
    duration_s: float,
    frames_per_s: float = 30.0,
    spoil: Spoil | None = None,
    times_s: FloatArray | None = None,
    start_ns: int = 5_000_000_000,
) -> Take:
    """Let the runner run before a pinhole camera; no picture is drawn."""
    spoil = spoil or Spoil()
    gait = _gait(params, duration_s)
    times = np.arange(0.0, duration_s, 1.0 / frames_per_s) if times_s is None else times_s
    xy = project(_turned(_landmarks(gait, times), spoil.aside_deg), view)
    rng = np.random.default_rng(spoil.seed)
    xy += rng.normal(0.0, spoil.noise_px, xy.shape)
    near = Side.RIGHT.value
    contacts = [
        at
        for at, side in zip(gait.timeline.contact_s, gait.timeline.sides, strict=False)
        if side == near
    ]
    poses = []
    for index, at in enumerate(times):
        points = xy[index]
        if spoil.swap_near_contact and any(-0.03 < contact - at < 0.07 for contact in contacts):
            for left in LEGS:
                points[[left, left + 1]] = points[[left + 1, left]]
        poses.append(
            Pose(
                captured_ns=start_ns + int(at * 1e9),
                index=index,
                width_px=WIDTH_PX,
                height_px=HEIGHT_PX,
                xy_px=points,
                visibility=np.where(np.isfinite(points.sum(axis=1)), 0.9, 0.0),
                people=1,
            )
        )
    return Take(gait=gait, poses=poses, start_ns=start_ns)


def without(pose: Pose, landmarks: list[int]) -> Pose:
    """The pose with some landmarks unknown."""
    points = pose.xy_px.copy()
    points[landmarks] = np.nan
    return replace(pose, xy_px=points)


def nobody(pose: Pose) -> Pose:
    """The pose of an empty picture."""
    empty = np.full((LANDMARK_COUNT, 2), np.nan)
    return replace(pose, xy_px=empty, visibility=np.zeros(LANDMARK_COUNT), people=0)


@cache
def _gait(params: RunnerParams, duration_s: float) -> Gait:
    """Solving what the parameters leave open takes longest."""
    return make_gait(params, duration_s)


def _landmarks(gait: Gait, times: FloatArray) -> FloatArray:
    """(n, 33, 3) metres: forward, left, up."""
    motion = gait.motion(times)
    points = np.full((len(times), LANDMARK_COUNT, 3), np.nan)
    for offset, side in enumerate(("left", "right")):
        leg, arm = motion.legs[side], motion.arms[side]
        cos, sin = np.cos(leg.pitch), np.sin(leg.pitch)
        none = np.zeros_like(cos)
        points[:, Lm.LEFT_HIP + offset] = leg.hip
        points[:, Lm.LEFT_KNEE + offset] = leg.knee
        points[:, Lm.LEFT_ANKLE + offset] = leg.ankle
        for landmark, along in ((Lm.LEFT_HEEL, -0.05), (Lm.LEFT_FOOT_INDEX, 0.13)):
            below = np.stack([along * cos + 0.06 * sin, none, along * sin - 0.06 * cos], axis=1)
            points[:, landmark + offset] = leg.ankle + below
        points[:, Lm.LEFT_SHOULDER + offset] = arm.shoulder
        points[:, Lm.LEFT_ELBOW + offset] = arm.elbow
        points[:, Lm.LEFT_WRIST + offset] = arm.wrist
    neck = (points[:, Lm.LEFT_SHOULDER] + points[:, Lm.RIGHT_SHOULDER]) / 2.0
    points[:, Lm.NOSE] = neck + np.array([0.12, 0.0, 0.22])
    points[:, Lm.LEFT_EAR] = neck + np.array([0.0, 0.07, 0.24])
    points[:, Lm.RIGHT_EAR] = neck + np.array([0.0, -0.07, 0.24])
    return points


def _turned(points: FloatArray, left_deg: float) -> FloatArray:
    """Points (..., 3) m turned to the left about the upright."""
    cos, sin = np.cos(np.radians(left_deg)), np.sin(np.radians(left_deg))
    forward, left, up = (points[..., axis] for axis in range(3))
    return np.stack([cos * forward - sin * left, sin * forward + cos * left, up], axis=-1)


def project(points: FloatArray, view: View) -> FloatArray:
    """Points (..., 3) m, (forward, left, up), to pixels (..., 2)."""
    forward, right, up = points[..., 0], -points[..., 1], points[..., 2]
    if view is View.SIDE:  # the camera stands at the runner's right
        across, depth = forward, DISTANCE_M - right
    elif view is View.BEHIND:
        across, depth = right, DISTANCE_M + forward
    else:
        across, depth = -right, DISTANCE_M - forward
    x = WIDTH_PX / 2 + FOCAL_PX * across / depth
    y = 0.62 * HEIGHT_PX - FOCAL_PX * (up - 0.9) / depth
    return np.stack([x, y], axis=-1)
