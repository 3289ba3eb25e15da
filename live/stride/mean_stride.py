"""The runner's mean stride: every landmark as a Fourier series over the stride's phase (pure)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.stride import fourier
from live.stride.fourier import TWO_PI
from live.stride.leg_labels import LEFT_ARM, LEFT_LEG, RIGHT_ARM, RIGHT_LEG, leg_length_px
from live.stride.pelvis_path import follows, learn_path
from live.stride.sample import RIGID, Sample
from live.stride.vertical import VerticalMotion, learn_bounce
from shared.flow import FloatArray
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm

HARMONICS: Final = 6
WINDOW_S: Final = 5.0
FORGET_S: Final = 3.0
"""Older strides count less, so that a change of technique shows within a few steps."""
EARS: Final = np.array([Lm.LEFT_EAR, Lm.RIGHT_EAR])
SHOULDERS: Final = np.array([Lm.LEFT_SHOULDER, Lm.RIGHT_SHOULDER])
HIDDEN: Final = 0.8
"""Share of the ears' way up and down that shoulders go at least. Behind a console that stands
before the chest the model draws them into its edge: 0.58 and 0.68 there, else 0.88 and more."""
SHOULDER_SHARE: Final = 0.4
"""Share of the shoulders' sideways path in the pelvis's one, where landmarks tell that."""
VAULTING: Final = 0.5
"""Cosine of the phase between the body's height and the legs' closeness, at two waves a stride:
0.93 in a captured walk, -0.7 to -1 in captured, real and rendered running."""
LEARNT: Final = np.concatenate([RIGID, LEFT_LEG, RIGHT_LEG, LEFT_ARM, RIGHT_ARM])
"""What measures and signs are read from; eyes, mouth and fingers are not."""
ALL_ROUND: Final = fourier.basis(fourier.PHASES, HARMONICS)
_SMOOTH: Final = fourier.smoothness(HARMONICS, 0.02)
_SMOOTH_DRIFTING: Final = np.concatenate([_SMOOTH, np.full(2, 1e-6)])


@dataclass(slots=True)
class MeanStride:
    """The learnt stride."""

    coefficients: FloatArray
    """(2 * HARMONICS + 1, 33, 2) px, relative to mid-hips."""
    root: FloatArray
    """(2 * HARMONICS + 1, 2) px, mid-hips with slow drift taken out (constant left at 0)."""
    spread: FloatArray
    """(33,) px, robust SD of single frames around the mean stride."""
    bounce: VerticalMotion
    rate_hz: float
    strides: float
    """How many strides stand behind it."""
    hips_path: FloatArray
    """(2 * HARMONICS + 1,) px, the pelvis's sideways path."""
    hips_seen: bool
    """Whether the picture itself tells that path, or the landmarks do."""
    seen: FloatArray = field(default_factory=lambda: np.ones(LANDMARK_COUNT))
    """(33,) how much of each landmark was seen on average, 0 to 1."""
    table: FloatArray = field(init=False)
    """(2 * HARMONICS + 1, 67): all coefficients side by side, the bounce's last."""
    _all_round: FloatArray | None = None

    def __post_init__(self) -> None:
        flat = self.coefficients.reshape(self.coefficients.shape[0], -1)
        self.table = np.hstack([flat, self.bounce.coefficients[:, None]])

    @property
    def all_round(self) -> FloatArray:
        """(360, 33, 2) as :meth:`at`, once round the stride (``fourier.PHASES``)."""
        if self._all_round is None:
            self._all_round = self._places(ALL_ROUND)
        return self._all_round

    @property
    def vaults(self) -> bool:
        """Whether the body is highest as the legs pass each other; from the side only.

        So it is in walking, an inverted pendulum; in running, a spring, it is lowest then (Cavagna
        and others 1976, from memory).
        """
        ankles = self.all_round[:, Lm.LEFT_ANKLE, 0] - self.all_round[:, Lm.RIGHT_ANKLE, 0]
        down = ALL_ROUND @ self.bounce.coefficients
        apart, low = (np.fft.rfft(curve)[2] for curve in (ankles**2, down))
        return float(np.real(low * np.conj(apart))) > VAULTING * float(np.abs(low * apart))

    @property
    def shoulders_hidden(self) -> bool:
        """Whether something stands before the chest, so that only the ears go with the body."""
        return self.travel_px(SHOULDERS) < HIDDEN * self.travel_px(EARS)

    def travel_px(self, landmarks: NDArray[np.int_]) -> float:
        """Highest less lowest of the mean of some landmarks within a step, px.

        Of what comes twice a stride alone: a limp, and landmarks that go up and down with the leg
        that is in front, come once.
        """
        down = self.all_round[:, landmarks, 1].mean(axis=1) + ALL_ROUND @ self.root[:, 1]
        waves = np.fft.rfft(down)
        waves[1::2] = 0.0
        return float(np.ptp(np.fft.irfft(waves, len(down))))

    def at(self, theta: FloatArray) -> FloatArray:
        """(n, 33, 2) landmark positions relative to mid-hips, px."""
        return self._places(fourier.basis(theta, HARMONICS))

    def _places(self, columns: FloatArray) -> FloatArray:
        return (columns @ self.table[:, :-1]).reshape(-1, 33, 2)

    def root_at(self, theta: FloatArray) -> FloatArray:
        """(n, 2) periodic part of the mid-hips, px."""
        return fourier.basis(theta, HARMONICS) @ self.root

    def hips_at(self, theta: FloatArray) -> FloatArray:
        """(n,) px, the pelvis's sideways path, + to the picture's right.

        As it is seen: captured runners' pelvis went 0.7, 0.9 and 1.6 times as far as the cloth on
        it, so that no gain learnt from some holds for another.
        """
        return fourier.basis(theta, HARMONICS) @ self.hips_path


def learn_stride(
    samples: Sequence[Sample], theta: FloatArray, leg_px: float
) -> tuple[MeanStride, float]:
    """Learn it from the frames of a window, ``theta`` (n,) rad the phase of each.

    ``leg_px`` is the leg's length as known so far; returned with the stride is the one that these
    frames show.
    """
    times = np.array([sample.t_s for sample in samples])
    rel = np.concatenate([sample.rel for sample in samples]).reshape(-1, LANDMARK_COUNT, 2)
    weight = np.concatenate([sample.weight for sample in samples]).reshape(-1, LANDMARK_COUNT)
    age = np.exp((times - times[-1]) / FORGET_S)
    columns = fourier.basis(theta, HARMONICS)
    fitted, distance2, robust = fourier.fit_robustly(
        columns, rel[:, LEARNT], weight[:, LEARNT] * age[:, None], _SMOOTH, 0.03 * leg_px
    )
    coefficients = np.zeros((columns.shape[1], LANDMARK_COUNT, 2))
    coefficients[:, LEARNT] = fitted
    total = np.maximum(robust.sum(axis=0), 1e-9)
    spread = np.zeros(LANDMARK_COUNT)
    spread[LEARNT] = np.sqrt((robust * distance2).sum(axis=0) / total / 2.0)
    root = np.concatenate([sample.root for sample in samples]).reshape(-1, 1, 2)
    drift = (times - times.mean())[:, None] / WINDOW_S
    drifting = np.hstack([columns, drift, drift**2])
    root_fit = fourier.fit(drifting, root, age[:, None], _SMOOTH_DRIFTING)
    root_fit = root_fit[: columns.shape[1], 0]
    root_fit[0] = 0.0
    by_landmarks = _by_landmarks(root_fit, coefficients)
    ways_px = np.array([sample.hips_way_px for sample in samples])
    by_picture = learn_path(ways_px, columns, times, age)
    if by_picture is not None and not follows(by_picture, by_landmarks, leg_px):
        by_picture = None
    downs = np.array([sample.down_px for sample in samples])
    strides = float(theta[-1] - theta[0]) / TWO_PI
    mean = MeanStride(
        coefficients=coefficients,
        root=root_fit,
        spread=spread,
        bounce=learn_bounce(downs, drifting, _SMOOTH_DRIFTING, age, columns.shape[1]),
        rate_hz=strides / max(float(times[-1] - times[0]), 1e-9),
        strides=strides,
        hips_path=by_landmarks if by_picture is None else by_picture,
        hips_seen=by_picture is not None,
        seen=weight.mean(axis=0),
    )
    return mean, leg_length_px(rel, weight)


def _by_landmarks(root: FloatArray, coefficients: FloatArray) -> FloatArray:
    """(2 * HARMONICS + 1,) px, the pelvis's sideways path as landmarks have it.

    Clothes hide the hip joints, so their landmarks wander; the shoulders steady them.
    """
    shoulders = coefficients[:, Lm.LEFT_SHOULDER, 0] + coefficients[:, Lm.RIGHT_SHOULDER, 0]
    return np.asarray(root[:, 0] + SHOULDER_SHARE * shoulders / 2.0)
