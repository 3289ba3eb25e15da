"""Quiet standing before the run: when it is seen, and what it tells of this one body (pure)."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import Final

import numpy as np

from live.scene import quality
from live.scene.geometry import bend_deg, from_vertical_deg
from shared.flow import FloatArray, Pose, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S

TYPICAL_SHANK_DEG: Final = 5.1
"""Shank ahead of upright in standing, as landmarks show it, where nobody was seen standing."""
TYPICAL_FLOOR_SHARE: Final = 0.668
"""Hip to heel over hip to ankle plus hip to shoulder, as landmarks show it: the mean of the
rendered tuning cases with standing (0.662 to 0.673)."""
LEAST_S: Final = 1.5
"""Someone who stands still for so long is standing, not pausing between two movements."""
MOST_S: Final = 6.0
FEWEST_FRAMES: Final = 15
STILL: Final = 0.02
"""No needed landmark's SD is more than this share of hip to ankle: it trembles by about 0.5 % in
a body at rest, and a step or a weight shift moves it by far more."""
UPRIGHT_DEG: Final = 15.0
STRAIGHT_DEG: Final = 20.0
"""Trunk from vertical and knees from straight, at most: not leaning on a rail, not crouching."""
FEET_APART: Final = 0.2
"""Ankles one ahead of the other by no more than this share of hip to ankle (side view)."""
ODD_LEGS: Final = 0.08
"""Legs longer or shorter by more than this than other people's of that size are a misreading."""
_HIPS: Final = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
_KNEES: Final = [Lm.LEFT_KNEE, Lm.RIGHT_KNEE]
_ANKLES: Final = [Lm.LEFT_ANKLE, Lm.RIGHT_ANKLE]
_HEELS: Final = [Lm.LEFT_HEEL, Lm.RIGHT_HEEL]
_TOES: Final = [Lm.LEFT_FOOT_INDEX, Lm.RIGHT_FOOT_INDEX]
_SHOULDERS: Final = [Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER]


@dataclass(frozen=True, slots=True)
class QuietStanding:
    """One runner at rest, as the landmarks show it: raw readings, both legs together.

    The side view's model exchanges the legs now and then, and in standing they cover each other;
    their mean does not mind. Left out is what did not make a measure better (rendered tuning
    cases): the landmarks of a flat foot tip by -10 to +4 degrees in standing, those of the trunk
    err alike in standing and running, and how far the hips are ahead of the ankles says more of
    a posture than of where the hip landmarks lie.
    """

    seconds: float
    """How long a stretch stands behind it."""
    leg_px: float
    """Hip to ankle."""
    trunk_px: float
    """Hip to shoulder."""
    shank_deg: float | None = None
    """Shank from vertical, + knee ahead of ankle; side view only, as what follows."""
    floor_px: float | None = None
    """Hip height over the heels."""

    @property
    def long_legs(self) -> float:
        """Leg length (hip to floor) against a typical body of the same size; 1 = typical."""
        if self.floor_px is None:
            return 1.0
        return self.floor_px / (self.leg_px + self.trunk_px) / TYPICAL_FLOOR_SHARE


class StandingWatch:
    """Looks for quiet standing in the poses before the run; feed it one pose a frame."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._poses: deque[Pose] = deque()
        self.standing: QuietStanding | None = None
        """The newest stretch of quiet standing; None until there was one."""

    def add(self, pose: Pose, seen: View | None) -> None:
        """Take in the next pose; ``seen`` is the view that the landmarks speak for."""
        points = pose.xy_px[quality.NEEDED]
        whole = bool(np.isfinite(points).all()) and not quality.is_cut_off(pose)
        if pose.people != 1 or not whole or seen is not self._view:
            self._poses.clear()
            return
        self._poses.append(pose)
        while pose.captured_ns - self._poses[0].captured_ns > MOST_S * NS_PER_S:
            self._poses.popleft()
        if self._seconds() < LEAST_S or len(self._poses) < FEWEST_FRAMES:
            return
        poses = np.stack([one.xy_px for one in self._poses])
        found = read_standing(poses, self._view, self._seconds())
        if found is not None:
            self.standing = found
            return
        # Only the newest stretch may still turn out to be quiet.
        while self._seconds() >= LEAST_S:
            self._poses.popleft()

    def _seconds(self) -> float:
        return (self._poses[-1].captured_ns - self._poses[0].captured_ns) / NS_PER_S


def read_standing(poses: FloatArray, view: View, seconds: float) -> QuietStanding | None:
    """What a stretch of poses (n, 33, 2) px says; None where it is not quiet, upright standing."""
    body = np.median(poses, axis=0)
    hips, ankles, shoulders = (body[part] for part in (_HIPS, _ANKLES, _SHOULDERS))
    leg_px = float(np.linalg.norm(ankles - hips, axis=1).mean())
    trunk = shoulders.mean(axis=0) - hips.mean(axis=0)
    trunk_px = float(np.linalg.norm(trunk))
    still = poses[:, quality.NEEDED].std(axis=0).max() <= STILL * leg_px
    straight = bend_deg(hips, body[_KNEES], ankles).max() <= STRAIGHT_DEG
    upright = abs(float(from_vertical_deg(np.zeros(2), trunk, 1.0))) <= UPRIGHT_DEG
    if not (still and straight and upright):
        return None
    if view is not View.SIDE:
        return QuietStanding(seconds, leg_px, trunk_px)
    if abs(ankles[0, 0] - ankles[1, 0]) > FEET_APART * leg_px:
        return None
    heel, toe = body[_HEELS].mean(axis=0), body[_TOES].mean(axis=0)
    forward = 1.0 if toe[0] >= heel[0] else -1.0
    knee, ankle = body[_KNEES].mean(axis=0), ankles.mean(axis=0)
    found = QuietStanding(
        seconds,
        leg_px,
        trunk_px,
        shank_deg=float(from_vertical_deg(ankle, knee, forward)),
        floor_px=float(heel[1] - hips[:, 1].mean()),
    )
    return found if abs(found.long_legs - 1.0) <= ODD_LEGS else None
