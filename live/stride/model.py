"""The runner's mean stride and where in it the runner is now: phase, leg names, residuals.

The pose model names the legs wrongly in part of the side-view frames, and its landmarks jump.
Running repeats itself, so a stride of our own is learnt over the last seconds: every landmark,
relative to the hips, as a Fourier series over the stride's phase. Each new frame then only has
to say which of the two leg namings fits and how far along the stride it is. The phase is
tracked by a two-state Kalman filter (``live.stride.phase_filter``).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Final

import numpy as np

from live.stride import fourier, vertical
from live.stride import phase_filter as phase
from live.stride.fourier import TWO_PI
from live.stride.leg_labels import (
    HIPS_APART,
    LEFT_ARM,
    LEFT_HIP,
    LEFT_LEG,
    RIGHT_ARM,
    RIGHT_HIP,
    RIGHT_LEG,
    find_stride_rate,
    leg_length_px,
    name_hips_together,
    name_legs_together,
    swap_sides,
)
from live.stride.mean_stride import HARMONICS, WINDOW_S, MeanStride, learn_stride
from live.stride.phase_filter import Belief
from live.stride.sample import Sample
from shared.flow import FloatArray

FIRST_FIT_S: Final = 2.5
FIRST_WINDOW_S: Final = 3.0
"""Nothing older is looked at first: standing and starting fit no stride."""
FEWEST_FRAMES: Final = 30
"""A slow camera may need more time than that to bring so many."""
RETRY_S: Final = 0.25
PHASE_FLOOR_RAD: Final = 0.03
EXPLAINED: Final = 0.4
"""Share of the movement that must come twice a stride before a stride is looked for: 0.54 and more
in real, captured and rendered running, 0.13 at most in standing."""
NAMES_RATE: Final = 0.02
TELLING: Final = 0.2
"""How much better one naming must fit, as a share of both misfits, for a frame to tell."""
LOST_RESIDUAL: Final = 0.16
"""Share of leg length; above it, for most of a second, the stride is taken for lost."""
WORST_RESIDUAL: Final = 2.0
"""How many times as much is borne while the body goes up and down as it should: the model lays legs
that look alike on each other, or on a handrail, and the steps go on all the same."""
NAMED_ANEW: Final = frozenset({5, 8, 12, *(2**power for power in range(4, 12))})
"""At these counts of fits the legs are told apart once more, if the model's names do not agree: a
runner who still gains speed fits a wrong naming about as well as the right one."""
TIDY: Final = 0.05
"""A share of exchanged frames that is as good as none."""
UNSTEADY: Final = 0.25
"""Share of the body's way up and down that the mean stride may leave unexplained then. About 1 once
the runner stands."""
LIMBS: Final = np.concatenate([LEFT_LEG, RIGHT_LEG, LEFT_ARM, RIGHT_ARM, LEFT_HIP, RIGHT_HIP])
CROSSED: Final = np.concatenate([RIGHT_LEG, LEFT_LEG, RIGHT_ARM, LEFT_ARM, RIGHT_HIP, LEFT_HIP])
SIDES: Final = (
    (LEFT_LEG, RIGHT_LEG, slice(0, 2 * len(LEFT_LEG))),
    (LEFT_ARM, RIGHT_ARM, slice(2 * len(LEFT_LEG), -2)),
    (LEFT_HIP, RIGHT_HIP, slice(-2, None)),
)
"""Groups of landmarks that may be exchanged, and where they stand in LIMBS."""
PHASE_WEIGHT: Final = np.zeros(33)
PHASE_WEIGHT[np.concatenate([LEFT_LEG, RIGHT_LEG])] = 1.0
PHASE_WEIGHT[np.concatenate([LEFT_ARM, RIGHT_ARM])] = 0.3
UNKNOWN: Final = Belief(0.0, 0.0, 1.0, 0.0, 1.0)


@dataclass(slots=True)
class StrideModel:
    """Learns the mean stride and follows the phase; feed it one sample per frame."""

    samples: deque[Sample] = field(default_factory=deque)
    mean: MeanStride | None = None
    state: Belief = UNKNOWN
    leg_px: float = 1.0
    misfit: float = 0.0
    """Smoothed residual as a share of leg length."""
    long_misfit: float = 0.0
    """The same over some strides."""
    unsteady: float = 0.0
    """Smoothed share of the body's way up and down that the mean stride does not explain."""
    swapped_share: float = 0.0
    """Share of the telling frames in which the model had the legs exchanged."""
    namings: int = 0
    """Grows when the legs turn out to have been told apart wrongly until now."""
    fits: int = 0
    refit_due: bool = False
    """Whether :meth:`settle` has something to do that takes its time."""
    _level_px: float = np.nan
    """Mean height of the body in the picture, followed slowly."""
    _last_try_s: float = -1e9
    _last_fit_theta: float = -1e9

    @property
    def locked(self) -> bool:
        """True while the stride is known and followed."""
        return self.mean is not None

    def reset(self) -> None:
        """Forget everything, as after a pause or another runner."""
        self.samples.clear()
        self.mean = None
        self.misfit = 0.0
        self.refit_due = False

    def settle(self) -> None:
        """Refit if it is time to; what comes of it counts from the next frame on."""
        if self.refit_due:
            self.refit_due = False
            self.refit()

    def add(self, sample: Sample) -> None:
        """Take in the next frame."""
        self.settle()
        if self.samples:
            gap = sample.t_s - self.samples[-1].t_s
            if gap <= 0:
                return
            if gap > 1.0:
                self.reset()
        self.samples.append(sample)
        while self.samples[-1].t_s - self.samples[0].t_s > WINDOW_S:
            self.samples.popleft()
        if self.mean is None:
            self._try_first_fit()
            return
        self._follow(sample)
        if self._lost(self.misfit / LOST_RESIDUAL) or not self.mean.bounce.twice_a_stride:
            self.mean = None
            # What came before belongs to another movement: learn afresh from here.
            self.samples.clear()
        elif self.state.theta - self._last_fit_theta >= np.pi:
            self.refit_due = True

    def _lost(self, misfit: float) -> bool:
        """Whether the frames lie too far off the stride, ``misfit`` being 1 where doubt begins."""
        return misfit > (WORST_RESIDUAL if self.unsteady < UNSTEADY else 1.0)

    # -- following ---------------------------------------------------------------------

    def _follow(self, sample: Sample) -> None:
        """One Kalman step: choose the leg naming that fits, then correct phase and rate."""
        mean = self.mean
        assert mean is not None  # noqa: S101 - narrowed by the caller
        dt = sample.t_s - self.samples[-2].t_s if len(self.samples) > 1 else 0.0
        predicted = sample.predicted = phase.predict(self.state, dt)
        here = fourier.rows(predicted.theta, HARMONICS) @ mean.table
        self._name_sides(sample, here[0, :-1].reshape(33, 2))
        noise_px2 = np.maximum(mean.spread, 0.01 * self.leg_px) ** 2
        weight = PHASE_WEIGHT * sample.weight / noise_px2
        down = sample.down_px - self._level_px
        bounce_px2 = max(mean.bounce.spread, 0.003 * self.leg_px) ** 2
        shift = 0.0
        for tries in range(2):
            if tries:
                here = fourier.rows(predicted.theta + shift, HARMONICS) @ mean.table
            slope = here[1, :-1].reshape(33, 2)
            height, fall = float(here[0, -1]), float(here[1, -1])
            residual = sample.rel - here[0, :-1].reshape(33, 2)
            distance2 = (residual**2).sum(axis=1)
            trusted = (weight / (1.0 + distance2 / (9.0 * noise_px2)))[:, None] * slope
            trust = vertical.TRUST / (bounce_px2 + (down - height) ** 2 / 9.0)
            information = float((trusted * slope).sum()) + 1e-9 + trust * fall**2
            pull = float((trusted * residual).sum()) + trust * fall * (down - height)
            shift = min(max(shift + pull / information, -0.6), 0.6)
        # Neighbouring landmarks err together, so their count is not their worth.
        variance = max(4.0 / information, PHASE_FLOOR_RAD**2)
        self.state = sample.filtered = phase.correct(predicted, shift, variance)
        sample.theta = self.state.theta
        expected = fourier.rows(sample.theta, HARMONICS)[0] @ mean.table
        off = down - float(expected[-1])
        self._level_px += min(1.0, dt / vertical.LEVEL_S) * off
        self.unsteady += 0.08 * (min(off**2 / mean.bounce.variance_px2, 4.0) - self.unsteady)
        self._take_residual(sample, expected[:-1].reshape(33, 2))

    def _take_residual(self, sample: Sample, expected: FloatArray) -> None:
        sample.residual = sample.rel - expected
        weight = PHASE_WEIGHT * sample.weight
        total = float(weight.sum())
        size = np.sqrt((sample.residual**2).sum(axis=1))
        now = float(weight @ size) / max(total, 1e-9) / self.leg_px
        if total < 1.0:
            now = 1.0
        self.misfit += 0.08 * (now - self.misfit)
        self.long_misfit += 0.02 * (now - self.long_misfit)

    def _name_sides(self, sample: Sample, expected: FloatArray) -> None:
        """Exchange the legs, and apart from them arms and hips, where that fits better."""
        there, rel, weight = expected[LIMBS], sample.rel, sample.weight
        costs = weight[LIMBS] * np.abs(rel[LIMBS] - there).sum(axis=1)
        crossed_costs = weight[CROSSED] * np.abs(rel[CROSSED] - there).sum(axis=1)
        for left, right, part in SIDES:
            cost, crossed_cost = float(costs[part].sum()), float(crossed_costs[part].sum())
            if left is LEFT_HIP and abs(there[-2, 0] - there[-1, 0]) < HIPS_APART * self.leg_px:
                continue
            if crossed_cost < cost:
                sample.rel = swap_sides(sample.rel, left, right)
                sample.weight = swap_sides(sample.weight, left, right)
                if left is LEFT_LEG:
                    sample.swapped = not sample.swapped
            telling = abs(cost - crossed_cost) > TELLING * (cost + crossed_cost)
            if left is LEFT_LEG and telling:
                self.swapped_share += NAMES_RATE * (float(sample.swapped) - self.swapped_share)

    def exchange_names(self) -> None:
        """Give both legs the other's name."""
        share = 1.0 - self.swapped_share
        samples = list(self.samples)
        self._exchange(samples, np.ones(len(samples)))
        self._set_hips(samples)
        self.swapped_share = share
        self.refit()

    # -- smoothing and refitting -------------------------------------------------------

    def smooth_back(self, frames: int) -> None:
        """Rauch-Tung-Striebel pass over the newest frames: later frames correct earlier phases."""
        samples = list(islice(reversed(self.samples), frames))[::-1]
        if not samples:
            return
        thetas = phase.smooth_back(
            [sample.t_s for sample in samples],
            [sample.filtered for sample in samples],
            [sample.predicted for sample in samples],
        )
        for sample, theta in zip(samples[-2::-1], thetas, strict=False):
            sample.theta = theta

    def refit(self) -> None:
        """Learn the mean stride anew from the window."""
        self.smooth_back(len(self.samples))
        samples = list(self.samples)
        theta = np.array([sample.theta for sample in samples])
        if self.fits in NAMED_ANEW and TIDY < self.swapped_share < 1.0 - TIDY:
            self._name_anew(samples, theta)
        self._learn(samples, theta)
        self._last_fit_theta = self.state.theta

    def _name_anew(self, samples: list[Sample], theta: FloatArray) -> None:
        """Tell the legs apart once more, now that the phase is better known."""
        rel = np.stack([sample.rel for sample in samples])
        weight = np.stack([sample.weight for sample in samples])
        flips = name_legs_together(theta, rel, weight, self.leg_px)
        if flips.mean() > TIDY:
            self._exchange(samples, flips)
            self._set_hips(samples)
            self.namings += 1

    def _set_hips(self, samples: list[Sample]) -> None:
        """Name the hips as the legs under them are named."""
        flips = name_hips_together(np.stack([sample.rel for sample in samples]), self.leg_px)
        for sample, flip in zip(samples, flips, strict=True):
            if flip > 0:
                sample.rel = swap_sides(sample.rel, LEFT_HIP, RIGHT_HIP)
                sample.weight = swap_sides(sample.weight, LEFT_HIP, RIGHT_HIP)

    def _exchange(self, samples: list[Sample], flips: FloatArray) -> None:
        """Exchange the legs of those frames for which ``flips`` (n,) is above 0."""
        for sample, flip in zip(samples, flips, strict=True):
            if flip > 0:
                sample.rel = swap_sides(sample.rel, LEFT_LEG, RIGHT_LEG)
                sample.weight = swap_sides(sample.weight, LEFT_LEG, RIGHT_LEG)
                sample.swapped = not sample.swapped
        self.swapped_share = float(np.mean([sample.swapped for sample in samples]))

    def _learn(self, samples: list[Sample], theta: FloatArray) -> None:
        self.mean, self.leg_px = learn_stride(samples, theta, self.leg_px)
        self.fits += 1

    # -- first fit ---------------------------------------------------------------------

    def _try_first_fit(self) -> None:
        now = self.samples[-1].t_s
        if now - self.samples[0].t_s < FIRST_FIT_S or now - self._last_try_s < RETRY_S:
            return
        if len(self.samples) < FEWEST_FRAMES:
            return
        while now - self.samples[0].t_s > FIRST_WINDOW_S and len(self.samples) > FEWEST_FRAMES:
            self.samples.popleft()
        self._last_try_s = now
        # Copies, so that what was concluded in a try that failed is not believed in the next.
        samples = [replace(sample) for sample in self.samples]
        self._fit_first(samples)
        if self.mean is not None:
            self.samples = deque(samples)

    def _fit_first(self, samples: list[Sample]) -> None:
        rel = np.stack([sample.rel for sample in samples])
        weight = np.stack([sample.weight for sample in samples])
        times = np.array([sample.t_s for sample in samples])
        self.leg_px = leg_length_px(rel, weight)
        root = np.stack([sample.root for sample in samples])
        rate, explained = find_stride_rate(times, rel, root, weight)
        if explained < EXPLAINED:
            return
        theta = TWO_PI * rate * (times - times[0])
        for sample in samples:
            sample.swapped = False
        self._exchange(samples, name_legs_together(theta, rel, weight, self.leg_px))
        self._set_hips(samples)
        self._learn(samples, theta)
        # Two passes let the phase leave the constant rate that the search assumed.
        for _ in range(2):
            self._rerun(samples, theta, rate)
            theta = np.array([sample.theta for sample in samples])
            self._learn(samples, theta)
        self.swapped_share = float(np.mean([sample.swapped for sample in samples]))
        legs = np.concatenate([LEFT_LEG, RIGHT_LEG])
        off = np.stack([one.residual[legs] for one in samples if one.residual is not None])
        self.misfit = float(np.sqrt((off**2).sum(axis=2)).mean() / self.leg_px)
        self.long_misfit = self.misfit
        self._last_fit_theta = self.state.theta
        assert self.mean is not None  # noqa: S101 - learnt just now
        found = self.mean.bounce
        self.unsteady = found.spread**2 / found.variance_px2
        lost = self._lost(self.misfit / (0.6 * LOST_RESIDUAL))
        if lost or found.twice_share < vertical.TWICE_AT_FIRST:
            self.mean = None

    def _rerun(self, samples: list[Sample], theta: FloatArray, rate: float) -> None:
        self.state = Belief(float(theta[0]), TWO_PI * rate, 0.2**2, 0.0, 0.3**2)
        samples[0].filtered = self.state
        samples[0].theta = float(theta[0])
        window = self.samples
        self.samples = deque(samples[:1])
        self._level_px = float(np.mean([sample.down_px for sample in samples]))
        for sample in samples[1:]:
            self.samples.append(sample)
            self._follow(sample)
        self.samples = window
        self.smooth_back(len(samples))
