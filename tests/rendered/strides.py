"""Mean strides of captured runners: which way thigh, shank and foot point in stance and in swing.

From ``tests/outside/people`` (two runners, one of them at two speeds, both legs of each), where the
sources and their licence (CC BY 4.0) are named. Changed here: averaged over strides.
"""

from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np

from tests.rendered.body import Floats

FOLDER = Path(__file__).parents[1] / "outside" / "people"
CONTACT_S = {"rbds001_T25": 0.277, "rbds001_T35": 0.225, "ric_20140515": 0.220}
"""Mean time on the belt, from force (50 N); the last is an estimate."""
SAMPLES = 61
FLAT = 0.25, 0.45  # share of contact in which the foot lies flat
PAUSE_S = 1.0  # a stride is shorter


@cache
def mean_strides() -> tuple[Floats, Floats]:
    """Angles (leg, segment, SAMPLES) deg over stance and over swing, one leg a trial and side.

    Segments: thigh and shank (+ their lower end ahead of the upper) and foot (+ toe up, less the
    flat foot).
    """
    stances, swings = [], []
    for trial, contact_s in CONTACT_S.items():
        with np.load(FOLDER / f"{trial}.npz") as kept:
            metres = kept["tenths_mm"] / 1e4
            columns = {str(joint): i for i, joint in enumerate(kept["joints"])}
            step_s = float(kept["step_s"])
            on_s = kept["contact_s"]
            sides = [str(side) for side in kept["contact_side"]]
        for side in "lr":
            hip, knee, ankle, heel, toe = (
                metres[:, columns[f"{joint}_{side}"]]
                for joint in ("hip", "knee", "ankle", "heel", "toe")
            )
            angles = np.stack([_below(hip, knee), _below(knee, ankle), _ahead(heel, toe)])
            at_s = np.arange(angles.shape[1]) * step_s
            mine = [k for k, whose in enumerate(sides) if whose == side]
            parts: tuple[list[Floats], list[Floats]] = [], []
            for k, after in pairwise(mine):
                if on_s[after] - on_s[k] > PAUSE_S:
                    continue
                for part, start, end in (
                    (parts[0], on_s[k], on_s[k] + contact_s),
                    (parts[1], on_s[k] + contact_s, on_s[after]),
                ):
                    times = np.linspace(start, end, SAMPLES)
                    part.append(np.stack([np.interp(times, at_s, one) for one in angles]))
            stance, swing = (np.mean(part, axis=0) for part in parts)
            low, high = (round(share * (SAMPLES - 1)) for share in FLAT)
            flat = stance[2, low:high].mean()
            stance[2] -= flat
            swing[2] -= flat
            stances.append(stance)
            swings.append(swing)
    return np.array(stances), np.array(swings)


def _below(upper: Floats, lower: Floats) -> Floats:
    return np.degrees(np.arctan2(lower[:, 0] - upper[:, 0], upper[:, 1] - lower[:, 1]))


def _ahead(heel: Floats, toe: Floats) -> Floats:
    return np.degrees(np.arctan2(toe[:, 1] - heel[:, 1], toe[:, 0] - heel[:, 0]))
