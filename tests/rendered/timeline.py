"""When each foot meets and leaves the belt, and how every step differs from the last.

Step times carry an independent random spread (treadmill running: 1-3 % from memory, under 4 %
Hanley & Tucker 2018). With `loop_steps` the whole sequence repeats exactly.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from tests.rendered.body import Floats
from tests.rendered.params import BySide, RunnerParams

MOST_SD = 2.0  # no step strays further, so that legs stay long enough
LEAD_STEPS = 4  # steps before time 0, so that a stride is already under way
SPREADS = (
    # name, standard deviation: chosen small against the figures they vary; no source
    ("strike_ahead_m", 0.005),
    ("foot_angle_deg", 0.8),
    ("pelvic_shift_m", 0.0015),
    ("pelvic_drop_deg", 0.4),
    ("knee_swing_deg", 2.0),
    ("lean_deg", 0.4),
    ("arm", 0.04),
    ("step_width_m", 0.005),
    ("bounce", 0.03),
)


@dataclass(frozen=True, eq=False)
class Timeline:
    """Steps in time order: side, contact and toe-off (n,) s, and each step's own deviations."""

    sides: tuple[str, ...]
    contact_s: Floats
    toe_off_s: Floats
    deviations: dict[str, Floats]
    contact_share: float
    phase_of: PchipInterpolator

    def phase(self, t: Floats) -> Floats:
        """Steps since step 0's contact: whole at each contact, smooth between."""
        return np.asarray(self.phase_of(t), dtype=float)

    def parity(self, first: str) -> int:
        """0 if even steps are on side `first`, else 1."""
        return 0 if self.sides[0] == first else 1


def build(params: RunnerParams, duration_s: float) -> Timeline:
    """Lay out steps from a little before 0 to a little after `duration_s`."""
    rng = np.random.default_rng(params.seed)
    period = 60.0 / params.cadence_spm
    count = params.loop_steps or int(np.ceil(duration_s / period)) + 2 * LEAD_STEPS + 4

    def draw() -> Floats:
        return np.clip(rng.standard_normal(count), -MOST_SD, MOST_SD)

    spread = draw() * params.step_time_sd_pct / 100
    contact_spread = draw() * params.step_time_sd_pct / 100
    deviations = {n: draw() * sd * params.variability for n, sd in SPREADS}
    if params.loop_steps:
        spread -= spread.mean()

    total = count if not params.loop_steps else _covering(count, duration_s, period)
    index = np.arange(total) % count
    sides = tuple("right" if i % 2 == 0 else "left" for i in range(total))
    # A step's time runs from the other side's contact to this one, so it belongs to this side.
    half = params.step_time_asymmetry_pct / 200
    share = np.array([1 + half if s == "right" else 1 - half for s in sides])
    steps = period * share * (1 + spread[index])
    first = -(count if params.loop_steps else LEAD_STEPS) * period
    contact = first + np.concatenate([[0.0], np.cumsum(steps[1:])])
    if params.loop_steps:  # whole loops before 0, so that the seam is at time 0 exactly
        contact += first + count * period - contact[count]
    stance = np.array([params.contact_time_ms.of(s) / 1000 for s in sides])
    toe_off = contact + stance * (1 + contact_spread[index])
    toe_off[:-1] = np.minimum(toe_off[:-1], contact[1:] - 0.02)

    contact_share = params.contact_time_ms.mean / 1000 / period
    knots = np.stack([contact, toe_off], axis=1).ravel()
    phases = np.stack([np.arange(total), np.arange(total) + contact_share], axis=1).ravel()
    return Timeline(
        sides,
        contact,
        toe_off,
        {name: values[index] for name, values in deviations.items()},
        contact_share,
        PchipInterpolator(knots, phases, extrapolate=True),
    )


def _covering(count: int, duration_s: float, period: float) -> int:
    loops = int(np.ceil(duration_s / (count * period))) + 2
    return loops * count + 4


def nominal(params: RunnerParams) -> Timeline:
    """The same gait without any spread, for solving what the parameters leave open."""
    plain = replace(params, step_time_sd_pct=0.0, variability=0.0, loop_steps=0)
    return build(plain, 4 * 60.0 / params.cadence_spm)


@lru_cache(maxsize=64)
def _deviation_curve(timeline: Timeline, name: str) -> PchipInterpolator:
    return PchipInterpolator(timeline.contact_s, timeline.deviations[name], extrapolate=True)


def deviation(timeline: Timeline, name: str, t: Floats) -> Floats:
    """A deviation drawn smoothly through time (equal to each step's at its contact)."""
    return np.asarray(_deviation_curve(timeline, name)(t), dtype=float)


def pulse(peaks: Floats, peak_phase: float) -> CubicHermiteSpline:
    """A curve over phase that is 0 at each contact and `peaks[i]` at step i + peak_phase.

    Used for what leans toward the standing leg: peaks alternate in sign by side, so the slope at
    each contact carries on from one step to the next.
    """
    n = len(peaks)
    knots = np.arange(2 * n) / 2.0
    knots[1::2] += peak_phase - 0.5
    heights = np.zeros(2 * n)
    heights[1::2] = peaks
    slopes = np.zeros(2 * n)
    rise = peaks / peak_phase
    fall = np.concatenate([[rise[0]], -peaks[:-1] / (1 - peak_phase)])
    # Not so steep that the curve would overshoot a small peak beside a large one.
    gentle = np.minimum(np.abs(rise), np.abs(fall)) * 2.4
    slopes[0::2] = np.clip(0.7 * (rise + fall), -gentle, gentle)
    return CubicHermiteSpline(knots, heights, slopes, extrapolate=True)


def side_values(timeline: Timeline, value: BySide) -> Floats:
    """A by-side parameter as one number per step."""
    return np.array([value.of(s) for s in timeline.sides])
