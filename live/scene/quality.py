"""How far the present picture can be trusted: one number, and the doubts that forbid cues."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from live.scene.breadth import Breadth
from live.scene.proportions import Proportions, is_upright
from shared.flow import FloatArray, Pose, View
from shared.landmarks import Landmark as Lm

GOOD_MISFIT: Final = 0.03
POOR_MISFIT: Final = 0.13
"""Mean distance of a limb landmark from the mean stride, share of leg length."""
MARGIN: Final = 0.005
"""A body part nearer to the picture's edge than this share of its height counts as cut off."""
RUNNING_SPM: Final = (130.0, 225.0)
"""Walking lies below about 130 to 140 steps/min (from memory; a design range)."""
FEET_SEEN_LEAST: Final = 0.5
"""The model's belief that it sees the better seen foot, from the side: 0.8 to 1 in drawn clips,
0.93 and more in two real ones, 0.1 to 0.5 with a board before the shins or legs."""
FEET: Final = (
    (Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX),
    (Lm.RIGHT_ANKLE, Lm.RIGHT_HEEL, Lm.RIGHT_FOOT_INDEX),
)
NEEDED: Final = np.array(
    [
        Lm.LEFT_SHOULDER,
        Lm.RIGHT_SHOULDER,
        Lm.LEFT_HIP,
        Lm.RIGHT_HIP,
        Lm.LEFT_ANKLE,
        Lm.RIGHT_ANKLE,
        Lm.LEFT_FOOT_INDEX,
        Lm.RIGHT_FOOT_INDEX,
    ]
)


def from_misfit(misfit: float) -> float:
    """Quality 0 to 1 from how far the frames lie from the mean stride."""
    return min(max((POOR_MISFIT - misfit) / (POOR_MISFIT - GOOD_MISFIT), 0.0), 1.0)


def is_cut_off(pose: Pose) -> bool:
    """True when a body part that is needed lies outside the picture or on its edge."""
    edge = MARGIN * pose.height_px
    wide, high = pose.width_px - edge, pose.height_px - edge
    return any(
        x < edge or x > wide or y < edge or y > high
        for x, y in pose.xy_px[NEEDED].tolist()
        if math.isfinite(x + y)
    )


def feet_seen(pose: Pose) -> float:
    """The model's own belief, 0 to 1, that it sees a foot: of the better seen one."""
    seen = pose.visibility.tolist()
    return max(float(sum(seen[part] for part in foot)) / len(foot) for foot in FEET)


def is_running(steps_per_min: float | None, vaults: bool = False) -> bool:
    """False when the step rate is a walker's, or faster than anyone runs; True if unknown.

    ``vaults``: the body was seen to go over the standing leg as a walker's does.
    """
    if steps_per_min is None:
        return True
    return not vaults and RUNNING_SPM[0] <= steps_per_min <= RUNNING_SPM[1]


@dataclass(slots=True)
class DoubtCounter:
    """Turns single frames into doubts that come after a few frames and go after a few."""

    rise: float = 0.34
    fall: float = 0.12
    level: float = 0.0
    on: bool = False

    def add(self, seen: bool) -> bool:
        """Count one frame; True while the doubt stands."""
        self.level = min(1.0, self.level + self.rise) if seen else max(0.0, self.level - self.fall)
        if self.level >= 1.0:
            self.on = True
        elif self.level <= 0.0:
            self.on = False
        return self.on


class DoubtWatch:
    """The doubts about one runner in one view, frame by frame."""

    def __init__(self, view: View) -> None:
        self._view = view
        self._counters = {
            code: DoubtCounter()
            for code in (
                "no_runner",
                "second_person",
                "body_cut_off",
                "wrong_view",
                "not_running",
                "quality_low",
            )
        }
        self._counters["legs_hidden"] = DoubtCounter(rise=0.05, fall=0.05)
        # A runner may bend down for a moment; what is wrong with a picture stays wrong.
        self._counters["picture_turned"] = DoubtCounter(rise=0.1, fall=0.1)
        self._counters["picture_stretched"] = DoubtCounter(rise=0.1, fall=0.02)
        self._shape = Proportions() if view is View.SIDE else Breadth()

    def add(
        self,
        pose: Pose,
        seen: View | None,
        quality: float,
        steps_per_min: float | None,
        vaults: bool = False,
    ) -> tuple[str, ...]:
        """Doubts after this frame, as problem codes.

        ``seen`` is the view that the landmarks speak for; ``steps_per_min`` is None while the
        stride is not yet known, when a low quality says nothing. ``vaults`` as in
        :func:`is_running`.
        """
        nobody = pose.people == 0 or not _finite_share(pose.xy_px) > 0.5
        if not nobody:
            self._shape.add(pose)
        facts = {
            "no_runner": nobody,
            "second_person": pose.people > 1,
            "body_cut_off": not nobody and is_cut_off(pose),
            "wrong_view": not nobody and seen is not None and seen is not self._view,
            "not_running": not nobody and not is_running(steps_per_min, vaults),
            "legs_hidden": not nobody
            and self._view is View.SIDE
            and feet_seen(pose) < FEET_SEEN_LEAST,
            "picture_turned": not nobody and not is_upright(pose),
            # Limbs and widths tell nothing of the picture while the view is another one.
            "picture_stretched": not nobody
            and seen in (None, self._view)
            and self._shape.stretched,
            "quality_low": not nobody and steps_per_min is not None and quality < 0.25,
        }
        return tuple(code for code, fact in facts.items() if self._counters[code].add(fact))


def _finite_share(xy_px: FloatArray) -> float:
    seen = np.isfinite(xy_px)
    return 1.0 if seen.all() else float(seen.all(axis=1).mean())
