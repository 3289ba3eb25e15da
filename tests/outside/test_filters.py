"""Filters and fits against scipy and numpy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest
from scipy.linalg import lstsq
from scipy.signal import butter, filtfilt, freqz

from live.stride import fourier
from live.stride.model import StrideModel
from live.stride.sample import make_sample
from shared.flow import FloatArray, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import RunnerParams

# The mean stride's series -------------------------------------------------------------------


def test_the_series_of_whole_strides_is_the_discrete_fourier_transform() -> None:
    count, orders = 64, 6
    values = np.random.default_rng(4).normal(0.0, 1.0, count)
    theta = np.arange(count) * 2 * np.pi / count
    columns = fourier.basis(theta, orders)
    weights, no_ridge = np.ones((count, 1)), np.zeros(2 * orders + 1)
    found = fourier.fit(columns, values[:, None, None], weights, no_ridge)[:, 0, 0]
    spectrum = np.fft.rfft(values) / count
    assert found[0] == pytest.approx(spectrum[0].real, abs=1e-7)
    assert found[1::2] == pytest.approx(2 * spectrum[1 : orders + 1].real, abs=1e-7)
    assert found[2::2] == pytest.approx(-2 * spectrum[1 : orders + 1].imag, abs=1e-7)


def test_the_weighted_fit_is_the_least_squares_of_scipy() -> None:
    rng = np.random.default_rng(5)
    theta = rng.uniform(0.0, 30.0, 120)
    values, weights = rng.normal(0.0, 1.0, (120, 3, 2)), rng.uniform(0.1, 1.0, (120, 3))
    columns, no_ridge = fourier.basis(theta, 4), np.zeros(9)
    found = fourier.fit(columns, values, weights, no_ridge)
    for point in range(3):
        root = np.sqrt(weights[:, point, None])
        expected = lstsq(root * columns, root * values[:, point])[0]
        assert found[:, point] == pytest.approx(expected, abs=1e-7)


# The mean stride against the filter of the laboratory ---------------------------------------

CUTOFF_HZ = 6.0
"""Markers of running are filtered at 6 to 12 Hz (Winter, from memory)."""


def zero_phase_cutoff_hz(cutoff_hz: float, frames_per_s: float) -> float:
    """Design frequency of each of two passes: Winter's correction, in its digital form."""
    correction = (2.0**0.5 - 1.0) ** 0.25
    warped = np.tan(np.pi * cutoff_hz / frames_per_s) / correction
    return float(np.arctan(warped) * frames_per_s / np.pi)


def test_the_reference_filter_halves_the_power_at_its_cutoff() -> None:
    """Two passes of the second order: amplitude 0.7071 at the cut-off (Winter)."""
    for frames_per_s in (30.0, 60.0, 120.0):
        design = butter(2, zero_phase_cutoff_hz(CUTOFF_HZ, frames_per_s), fs=frames_per_s)
        response = freqz(*design, worN=[CUTOFF_HZ], fs=frames_per_s)[1]
        assert abs(response[0]) ** 2 == pytest.approx(np.sqrt(0.5))


@dataclass(frozen=True)
class Compared:
    """The last strides of one run three ways, relative to mid-hips in % of leg length."""

    true: FloatArray
    model: FloatArray
    reference: FloatArray
    times_s: FloatArray


@cache
def compared(view: View, frames_per_s: float = 30.0, noise_px: float = 2.0) -> Compared:
    made = take(RunnerParams(start_s=0.0), view, 16.0, frames_per_s, spoil=Spoil(0.0))
    true = np.stack([pose.xy_px for pose in made.poses])
    raw = true + np.random.default_rng(6).normal(0.0, noise_px, true.shape)
    model = StrideModel()
    for pose, points in zip(made.poses, raw, strict=True):
        at_s = (pose.captured_ns - made.start_ns) / NS_PER_S
        sample = make_sample(replace(pose, xy_px=points), at_s)
        assert sample is not None
        model.add(sample)
    model.refit()
    assert model.mean is not None
    # Forgetting makes the model speak for the newest strides; both filters are poor at the end.
    part = slice(len(model.samples) // 3, -int(0.5 * frames_per_s))
    samples = list(model.samples)[part]
    times = np.array([sample.t_s for sample in samples])
    frames = np.round(times * frames_per_s).astype(int)
    hips = [Lm.LEFT_HIP, Lm.RIGHT_HIP]
    true, raw = (every - every[:, hips].mean(axis=1, keepdims=True) for every in (true, raw))
    design = butter(2, zero_phase_cutoff_hz(CUTOFF_HZ, frames_per_s), fs=frames_per_s)
    percent = 100.0 / model.leg_px
    return Compared(
        true=percent * true[frames],
        model=percent * model.mean.at(np.array([sample.theta for sample in samples])),
        reference=percent * filtfilt(*design, np.nan_to_num(raw), axis=0)[frames],
        times_s=times,
    )


BODY_PARTS = [
    [left, left + 1]
    for left in (Lm.LEFT_SHOULDER, Lm.LEFT_WRIST, Lm.LEFT_KNEE, Lm.LEFT_ANKLE, Lm.LEFT_FOOT_INDEX)
]


def off(one: FloatArray, other: FloatArray, part: list[int]) -> float:
    """RMS distance in % of leg length."""
    return float(np.sqrt(((one - other)[:, part] ** 2).sum(axis=2).mean()))


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_the_live_stride_is_as_near_the_truth_as_the_filter_of_the_laboratory(view: View) -> None:
    """At 30 frames/s; the zero-phase filter may look ahead, the live stride may not."""
    made = compared(view)
    for part in BODY_PARTS:
        assert off(made.model, made.true, part) < 1.05 * off(made.reference, made.true, part)


@pytest.mark.parametrize("view", [View.SIDE, View.BEHIND])
def test_the_live_stride_does_not_lag(view: View) -> None:
    """Time shift that brings it nearest to the zero-phase filter, by least squares."""
    made = compared(view)
    for part in BODY_PARTS[1:]:
        speed = np.gradient(made.reference[:, part], made.times_s, axis=0)
        late_s = -float(((made.model - made.reference)[:, part] * speed).sum() / (speed**2).sum())
        assert abs(late_s) < 0.005
