"""How far a hand crosses before the body, from one camera in front of the runner (pure).

The camera seldom looks exactly along the belt. Seen from 5 degrees aside, a hand that is 25 cm
ahead of the shoulders appears 2 cm further to one side: one hand seems to cross and the other to
stay out. How far aside the camera looks is read from the standing feet, which the belt takes
straight back.

Which way the arm swings as seen from above is not read. From behind the trunk hides the hands, and
the elbows do not tell of them: in captured runners a wrist goes inward while its elbow goes
outward. From in front the way across is seen, but not how far the hand goes forward and back.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from live.measures.events import ANKLE, EventPhases
from live.stride.fourier import PHASES, TWO_PI
from live.stride.mean_stride import MeanStride
from shared.flow import FloatArray, Side
from shared.landmarks import Landmark as Lm

WRIST: Final = {Side.LEFT: Lm.LEFT_WRIST, Side.RIGHT: Lm.RIGHT_WRIST}
STANCE_WAY: Final = 0.8
"""How far the belt takes a standing foot, over the leg's length: 0.75 to 0.9 in captured and drawn
runners at 2.5 to 4.4 m/s."""
WRIST_AHEAD: Final = 0.10
WRIST_SWING: Final = 0.18
"""How far the wrist is ahead of the shoulders on average and how far it swings to either side of
that, over the leg's length: as in the captured stride with arms; needed roughly only."""
_STANCE: Final = np.linspace(0.05, 0.95, 19)


def aside(mean: MeanStride, phases: EventPhases, leg_px: float) -> float:
    """How far what lies ahead appears to the picture's right, per way ahead, from in front.

    The tangent of the angle between the line of sight and the belt. ``leg_px`` is the leg's length
    to the floor.
    """
    way = []
    for foot, ankle in ANKLE.items():
        start = phases.contact[foot]
        theta = start + _STANCE * ((phases.toe_off[foot] - start) % TWO_PI)
        x = mean.at(theta)[:, ankle, 0] + mean.root_at(theta)[:, 0]
        way.append(float(np.polyfit(_STANCE, x, 1)[0]))
    # The foot goes back, so what lies ahead is on the other side.
    return -float(np.mean(way)) / (STANCE_WAY * leg_px)


def across(
    mean: MeanStride, phases: EventPhases, side: Side, to_right: float, leg_px: float
) -> FloatArray:
    """(360,) px, how far one wrist is past the middle of the shoulders, + past it.

    Once round the stride, as a camera would see it that looks along the belt; ``to_right`` is +1
    where the runner's right is right in the picture.
    """
    curves = mean.all_round
    middle = (curves[:, Lm.LEFT_SHOULDER, 0] + curves[:, Lm.RIGHT_SHOULDER, 0]) / 2.0
    swing = np.cos(PHASES - phases.contact[side.other])
    ahead = leg_px * (WRIST_AHEAD + WRIST_SWING * swing)
    inward = to_right * (1.0 if side is Side.LEFT else -1.0)
    seen = curves[:, WRIST[side], 0] - middle
    return np.asarray(inward * (seen - aside(mean, phases, leg_px) * ahead))
