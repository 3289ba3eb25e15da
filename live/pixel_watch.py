"""What is looked at in the picture itself once a frame's cues are out, and told to the pipeline.

From the side the shoe that stands on the belt; from behind the hips; in front nothing, since the
hands swing before the hips and take what is seen there with them.
"""

from __future__ import annotations

from live.pipeline import Pipeline
from live.pixels.hips import HipsCut, HipsFollower, hips_cut_of
from live.pixels.patches import Cut
from live.pixels.shoe import strip_of, way_px
from shared.flow import Frame, Pose, View

Kept = Cut | HipsCut


def keep_of(frame: Frame, pose: Pose, view: View) -> Kept | None:
    """What of a frame is kept until the next one is there; None where that is not to be seen."""
    if view is View.SIDE:
        return strip_of(frame, pose)
    return hips_cut_of(frame, pose) if view is View.BEHIND else None


class PictureWatch:
    """Looks at one picture after the other; give it what is kept of every frame."""

    def __init__(self, pipeline: Pipeline) -> None:
        self._pipeline = pipeline
        self._follower = HipsFollower()
        self._before: Kept | None = None

    def see(self, now: Kept | None) -> float | None:
        """The way since the frame before, px, + to the right; None where it was not seen.

        Call it once the pipeline has taken the same frame's pose.
        """
        before, self._before = self._before, now
        if isinstance(before, HipsCut) and isinstance(now, HipsCut):
            return self._hips(before, now)
        if isinstance(before, Cut) and isinstance(now, Cut):
            return self._shoe(before, now)
        return None

    def _shoe(self, before: Cut, now: Cut) -> float | None:
        spot = self._pipeline.standing_shoe()
        if spot is None or (spot.before_ns, spot.now_ns) != (before.captured_ns, now.captured_ns):
            return None
        found = way_px(before, now, spot)
        if found is not None:
            self._pipeline.shoe_went(spot, found)
        return found

    def _hips(self, before: HipsCut, now: HipsCut) -> float | None:
        if self._pipeline.last_two_ns() != (before.cut.captured_ns, now.cut.captured_ns):
            return None
        found = self._follower.way_px(before, now)
        if found is not None:
            self._pipeline.hips_went(found)
        return found
