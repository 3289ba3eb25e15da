"""The swing of the arms seen from above, from one camera behind the runner.

In front of the trunk the hands are hidden, and the pose model only guesses at them. The elbows
stay in sight. A running arm swings almost as one piece, with the elbow kept bent, so the elbow's
path runs in the direction of the wrist's. The picture shows how far the elbow goes sideways;
how far it goes forward and back is read from how much of the upper arm's length is missing.
That length turns its sign once in each half stride, as the arm swings through the vertical: a
swing of one harmonic, in time with the opposite leg, settles where.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from live.harmonics import PHASES
from live.meanstride import MeanStride
from shared.landmarks import Landmark as Lm
from shared.records import FloatArray, Side

_CENTRES: Final = np.linspace(-0.6, 0.4, 21)
_SWINGS: Final = np.linspace(0.0, 0.95, 20)
_SHIFTS_RAD: Final = np.linspace(-0.4, 0.8, 5)
"""Searched: middle and half range of the elbow's way forward, as shares of the upper arm, and
how much later than the opposite foot's contact it is furthest forward."""


def elbow_path(
    mean: MeanStride, side: Side, to_right: float, opposite_contact: float
) -> FloatArray:
    """(360, 2) px, forward and to the runner's right, of one elbow against the mid-shoulders.

    ``opposite_contact`` is the phase at which the other side's foot meets the belt.
    """
    curves = mean.all_round
    k = 0 if side is Side.LEFT else 1
    shoulder, elbow = curves[:, Lm.LEFT_SHOULDER + k], curves[:, Lm.LEFT_ELBOW + k]
    middle = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    seen2 = ((elbow - shoulder) ** 2).sum(axis=1)
    # Once in its swing the upper arm lies square to the camera and shows its whole length.
    upper = float(np.sqrt(seen2.max()))
    forward = upper * _swing(1.0 - seen2 / upper**2, opposite_contact)
    return np.stack([forward, to_right * (elbow[:, 0] - middle[:, 0])], axis=1)


def _swing(hidden2: FloatArray, opposite_contact: float) -> FloatArray:
    """(360,) forward share of the upper arm whose square comes nearest to ``hidden2``."""
    waves = np.cos(PHASES[None, :] - opposite_contact - _SHIFTS_RAD[:, None])
    grid = np.meshgrid(_CENTRES, _SWINGS, np.arange(len(_SHIFTS_RAD)))
    centre, swing, shift = grid[0].ravel(), grid[1].ravel(), grid[2].ravel()
    coarse = slice(None, None, 12)
    tried = centre[:, None] + swing[:, None] * waves[shift][:, coarse]
    misfit = ((tried**2 - hidden2[None, coarse]) ** 2).sum(axis=1)
    best = int(np.argmin(misfit))
    return np.asarray(centre[best] + swing[best] * waves[shift[best]])


def direction_deg(path: FloatArray) -> float:
    """Main axis of a path (n, 2: forward, across) from fore-and-aft, deg, 0 to 90."""
    centred = path - path.mean(axis=0)
    spread = centred.T @ centred
    angle = 0.5 * np.arctan2(2.0 * spread[0, 1], spread[0, 0] - spread[1, 1])
    return float(np.degrees(abs(angle)))
