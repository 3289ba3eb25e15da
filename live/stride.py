"""The runner's mean stride and where in it the runner is now: phase, leg names, residuals.

The pose model names the legs wrongly in part of the side-view frames, and its landmarks jump.
Running repeats itself, so a stride of our own is learnt over the last seconds: every landmark,
relative to the hips, as a Fourier series over the stride's phase. Each new frame then only has
to say which of the two leg namings fits and how far along the stride it is. The phase is
tracked by a two-state Kalman filter (phase, rate).
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from live import bounce, harmonics
from live.bounce import Bounce, learn_bounce
from live.harmonics import TWO_PI
from live.naming import (
    LEFT_LEG,
    RIGHT_LEG,
    find_stride_rate,
    leg_length_px,
    name_legs_together,
    swap_sides,
)
from live.sample import Sample
from shared.landmarks import Landmark as Lm
from shared.records import FloatArray

HARMONICS: Final = 6
WINDOW_S: Final = 5.0
FORGET_S: Final = 3.0
"""Older strides count less, so that a change of technique shows within a few steps."""
FIRST_FIT_S: Final = 2.5
FIRST_WINDOW_S: Final = 3.0
"""Nothing older is looked at first: standing and starting fit no stride."""
FEWEST_FRAMES: Final = 30
"""A slow camera may need more time than that to bring so many."""
RETRY_S: Final = 0.25
RATE_WALK: Final = 0.06
"""rad^2/s^3; about 1.5 % change of step time from step to step (Hanley and Tucker 2018)."""
PHASE_FLOOR_RAD: Final = 0.03
NAMES_RATE: Final = 0.02
MOSTLY_EXCHANGED: Final = 0.6
"""Share of telling frames with the model's own names exchanged that proves our naming wrong."""
MUDDLED: Final = 0.25
"""No stride is believed at first with this share of the names exchanged: 0 to 0.2 in true ones."""
TELLING: Final = 0.2
"""How much better one naming must fit, as a share of both misfits, for a frame to tell."""
LOST_RESIDUAL: Final = 0.16
"""Share of leg length; above it, for most of a second, the stride is taken for lost."""
LEFT_ARM: Final = np.array([Lm.LEFT_ELBOW, Lm.LEFT_WRIST])
RIGHT_ARM: Final = LEFT_ARM + 1
PHASE_WEIGHT: Final = np.zeros(33)
PHASE_WEIGHT[np.concatenate([LEFT_LEG, RIGHT_LEG])] = 1.0
PHASE_WEIGHT[np.concatenate([LEFT_ARM, RIGHT_ARM])] = 0.3


@dataclass(slots=True)
class MeanStride:
    """The learnt stride."""

    coefficients: FloatArray
    """(2 * HARMONICS + 1, 33, 2) px, relative to mid-hips."""
    root: FloatArray
    """(2 * HARMONICS + 1, 2) px, mid-hips with slow drift taken out (constant left at 0)."""
    spread: FloatArray
    """(33,) px, robust SD of single frames around the mean stride."""
    bounce: Bounce
    rate_hz: float
    strides: float
    """How many strides stand behind it."""

    def at(self, theta: FloatArray) -> FloatArray:
        """(n, 33, 2) landmark positions relative to mid-hips, px."""
        flat = self.coefficients.reshape(self.coefficients.shape[0], -1)
        return (harmonics.basis(theta, HARMONICS) @ flat).reshape(-1, 33, 2)

    def root_at(self, theta: FloatArray) -> FloatArray:
        """(n, 2) periodic part of the mid-hips, px."""
        return harmonics.basis(theta, HARMONICS) @ self.root


@dataclass(slots=True)
class StrideModel:
    """Learns the mean stride and follows the phase; feed it one sample per frame."""

    samples: deque[Sample] = field(default_factory=deque)
    mean: MeanStride | None = None
    state: FloatArray = field(default_factory=lambda: np.zeros(2))
    """Phase (rad, unwrapped) and rate (rad/s)."""
    covariance: FloatArray = field(default_factory=lambda: np.eye(2))
    leg_px: float = 1.0
    misfit: float = 0.0
    """Smoothed residual as a share of leg length."""
    swapped_share: float = 0.0
    """Share of the telling frames in which the model had the legs exchanged."""
    namings: int = 0
    """Grows when the legs' names turn out to have been exchanged all along."""
    fits: int = 0
    _level_px: float = np.nan
    """Mean height of the body in the picture, followed slowly."""
    _refit_due: bool = False
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
        self._refit_due = False

    def settle(self) -> None:
        """Refit if it is time to; what comes of it counts from the next frame on."""
        if self._refit_due:
            self._refit_due = False
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
        if self.misfit > LOST_RESIDUAL or not self.mean.bounce.twice_a_stride:
            self.mean = None
            # What came before belongs to another movement: learn afresh from here.
            self.samples.clear()
        elif self.swapped_share > MOSTLY_EXCHANGED:
            self._exchange_names()
        elif self.state[0] - self._last_fit_theta >= np.pi:
            self._refit_due = True

    # -- following ---------------------------------------------------------------------

    def _follow(self, sample: Sample) -> None:
        """One Kalman step: choose the leg naming that fits, then correct phase and rate."""
        mean = self.mean
        assert mean is not None  # noqa: S101 - narrowed by the caller
        dt = sample.t_s - self.samples[-2].t_s if len(self.samples) > 1 else 0.0
        step = np.array([[1.0, dt], [0.0, 1.0]])
        noise = RATE_WALK * np.array([[dt**3 / 3, dt**2 / 2], [dt**2 / 2, dt]])
        predicted = step @ self.state
        spread = step @ self.covariance @ step.T + noise
        sample.predicted = (predicted, spread)
        theta = float(predicted[0])
        flat = mean.coefficients.reshape(mean.coefficients.shape[0], -1)
        expected = (harmonics.basis(np.array([theta]), HARMONICS) @ flat).reshape(33, 2)
        self._name_sides(sample, expected)
        noise_px2 = np.maximum(mean.spread, 0.01 * self.leg_px) ** 2
        weight = PHASE_WEIGHT * sample.weight / noise_px2
        down = bounce.down_px(sample.root, sample.rel, sample.weight) - self._level_px
        bounce_px2 = max(mean.bounce.spread, 0.003 * self.leg_px) ** 2
        shift = 0.0
        information = 1e-9
        for _ in range(2):
            here = np.array([theta + shift])
            expected = (harmonics.basis(here, HARMONICS) @ flat).reshape(33, 2)
            slope = (harmonics.slope_basis(here, HARMONICS) @ flat).reshape(33, 2)
            residual = sample.rel - expected
            distance2 = (residual**2).sum(axis=1)
            robust = weight / (1.0 + distance2 / (9.0 * noise_px2))
            information = float((robust[:, None] * slope**2).sum()) + 1e-9
            pull = float((robust[:, None] * slope * residual).sum())
            height, fall = mean.bounce.at(theta + shift)
            trust = bounce.TRUST / (bounce_px2 + (down - height) ** 2 / 9.0)
            information += trust * fall**2
            move = (pull + trust * fall * (down - height)) / information
            shift = float(np.clip(shift + move, -0.6, 0.6))
        # Neighbouring landmarks err together, so their count is not their worth.
        variance = max(4.0 / information, PHASE_FLOOR_RAD**2)
        gain = spread[:, 0] / (spread[0, 0] + variance)
        self.state = predicted + gain * shift
        self.covariance = spread - np.outer(gain, spread[0])
        sample.filtered = (self.state.copy(), self.covariance.copy())
        sample.theta = float(self.state[0])
        off = down - mean.bounce.at(sample.theta)[0]
        self._level_px += min(1.0, dt / bounce.LEVEL_S) * off
        self._take_residual(sample, flat)

    def _take_residual(self, sample: Sample, flat: FloatArray) -> None:
        here = np.array([sample.theta])
        expected = (harmonics.basis(here, HARMONICS) @ flat).reshape(33, 2)
        sample.residual = sample.rel - expected
        weight = PHASE_WEIGHT * sample.weight
        size = np.sqrt((sample.residual**2).sum(axis=1))
        now = float((weight * size).sum() / max(weight.sum(), 1e-9)) / self.leg_px
        if weight.sum() < 1.0:
            now = 1.0
        self.misfit += 0.08 * (now - self.misfit)

    def _name_sides(self, sample: Sample, expected: FloatArray) -> None:
        """Exchange the legs, and apart from them the arms, where that fits better."""
        for left, right in ((LEFT_LEG, RIGHT_LEG), (LEFT_ARM, RIGHT_ARM)):
            both = np.concatenate([left, right])
            crossed = np.concatenate([right, left])
            weight = sample.weight[both]
            as_is = np.abs(sample.rel[both] - expected[both]).sum(axis=1)
            other = np.abs(sample.rel[crossed] - expected[both]).sum(axis=1)
            cost = float((weight * as_is).sum())
            crossed_cost = float((sample.weight[crossed] * other).sum())
            if crossed_cost < cost:
                sample.rel = swap_sides(sample.rel, left, right)
                sample.weight = swap_sides(sample.weight, left, right)
                if left is LEFT_LEG:
                    sample.swapped = not sample.swapped
            telling = abs(cost - crossed_cost) > TELLING * (cost + crossed_cost)
            if left is LEFT_LEG and telling:
                self.swapped_share += NAMES_RATE * (float(sample.swapped) - self.swapped_share)

    def _exchange_names(self) -> None:
        """Give both legs the other's name: the model names them rightly in most frames."""
        for sample in self.samples:
            sample.rel = swap_sides(sample.rel, LEFT_LEG, RIGHT_LEG)
            sample.weight = swap_sides(sample.weight, LEFT_LEG, RIGHT_LEG)
            sample.swapped = not sample.swapped
        self.swapped_share = 1.0 - self.swapped_share
        self.namings += 1
        self.refit()

    # -- smoothing and refitting -------------------------------------------------------

    def smooth_back(self, frames: int) -> None:
        """Rauch-Tung-Striebel pass over the newest frames: later frames correct earlier phases."""
        samples = list(self.samples)[-frames:]
        if not samples or samples[-1].filtered is None:
            return
        theta, rate = samples[-1].filtered[0].tolist()
        # In plain numbers: the window is long, and numpy is slow on matrices of two by two.
        for here, after in zip(samples[-2::-1], samples[:0:-1], strict=True):
            if here.filtered is None or after.predicted is None:
                return
            dt = after.t_s - here.t_s
            (x, v), ((xx, xv), (vx, vv)) = (part.tolist() for part in here.filtered)
            (px, pv), ((pxx, pxv), (pvx, pvv)) = (part.tolist() for part in after.predicted)
            off_x, off_v = theta - px, rate - pv
            size = pxx * pvv - pxv * pvx
            pull_x, pull_v = (pvv * off_x - pxv * off_v) / size, (pxx * off_v - pvx * off_x) / size
            theta = x + (xx + dt * xv) * pull_x + xv * pull_v
            rate = v + (vx + dt * vv) * pull_x + vv * pull_v
            here.theta = theta

    def refit(self) -> None:
        """Learn the mean stride anew from the window."""
        self.smooth_back(len(self.samples))
        samples = list(self.samples)
        theta = np.array([sample.theta for sample in samples])
        self._learn(samples, theta)
        self._last_fit_theta = float(self.state[0])

    def _learn(self, samples: list[Sample], theta: FloatArray) -> None:
        times = np.array([sample.t_s for sample in samples])
        rel = np.stack([sample.rel for sample in samples])
        weight = np.stack([sample.weight for sample in samples])
        root = np.stack([sample.root for sample in samples])
        age = np.exp((times - times[-1]) / FORGET_S)
        columns = harmonics.basis(theta, HARMONICS)
        ridge = harmonics.smoothness(HARMONICS, 0.02)
        base = weight * age[:, None]
        robust = base.copy()
        scale = 0.03 * self.leg_px
        coefficients = np.zeros((columns.shape[1], 33, 2))
        for _ in range(3):
            coefficients = harmonics.fit(columns, rel, robust, ridge)
            residual = rel - np.tensordot(columns, coefficients, 1)
            distance2 = (residual**2).sum(axis=2)
            robust = base / (1.0 + distance2 / scale**2)
        total = np.maximum(robust.sum(axis=0), 1e-9)
        spread = np.sqrt((robust * distance2).sum(axis=0) / total / 2.0)
        drift = (times - times.mean())[:, None] / WINDOW_S
        root_columns = np.hstack([columns, drift, drift**2])
        root_ridge = np.concatenate([harmonics.smoothness(HARMONICS, 0.02), np.full(2, 1e-6)])
        root_fit = harmonics.fit(root_columns, root[:, None, :], age[:, None], root_ridge)
        root_fit = root_fit[: columns.shape[1], 0]
        root_fit[0] = 0.0
        downs = np.array([bounce.down_px(s.root, s.rel, s.weight) for s in samples])
        span = float(theta[-1] - theta[0])
        self.mean = MeanStride(
            coefficients=coefficients,
            root=root_fit,
            spread=spread,
            bounce=learn_bounce(downs, root_columns, root_ridge, age, columns.shape[1]),
            rate_hz=span / TWO_PI / max(times[-1] - times[0], 1e-9),
            strides=span / TWO_PI,
        )
        self.fits += 1
        self.leg_px = leg_length_px(rel, weight)

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
        rate, explained = find_stride_rate(times, rel, weight)
        if explained < 0.5:
            return
        theta = TWO_PI * rate * (times - times[0])
        flips = name_legs_together(theta, rel, weight, self.leg_px)
        for sample, flip in zip(samples, flips, strict=True):
            if flip:
                sample.rel = swap_sides(sample.rel, LEFT_LEG, RIGHT_LEG)
                sample.weight = swap_sides(sample.weight, LEFT_LEG, RIGHT_LEG)
            sample.swapped = bool(flip)
        self._learn(samples, theta)
        # Two passes let the phase leave the constant rate that the search assumed.
        for _ in range(2):
            self._rerun(samples, theta, rate)
            theta = np.array([sample.theta for sample in samples])
            self._learn(samples, theta)
        self.swapped_share = float(np.mean([sample.swapped for sample in samples]))
        self.misfit = float(
            np.mean(
                [
                    np.sqrt((sample.residual[LEFT_LEG] ** 2).sum(axis=1)).mean()
                    for sample in samples[1:]
                    if sample.residual is not None
                ]
            )
            / self.leg_px
        )
        self._last_fit_theta = float(self.state[0])
        muddled = self.swapped_share > MUDDLED or self.misfit > 0.6 * LOST_RESIDUAL
        if muddled or (self.mean is not None and not self.mean.bounce.twice_a_stride):
            self.mean = None

    def _rerun(self, samples: list[Sample], theta: FloatArray, rate: float) -> None:
        self.state = np.array([theta[0], TWO_PI * rate])
        self.covariance = np.diag([0.2**2, 0.3**2])
        samples[0].filtered = (self.state.copy(), self.covariance.copy())
        samples[0].theta = float(theta[0])
        window = self.samples
        self.samples = deque(samples[:1])
        downs = [bounce.down_px(s.root, s.rel, s.weight) for s in samples]
        self._level_px = float(np.mean(downs))
        for sample in samples[1:]:
            self.samples.append(sample)
            self._follow(sample)
        self.samples = window
        self.smooth_back(len(samples))
