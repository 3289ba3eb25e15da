"""The hips' sideways path over the mean stride, from how far they went between pictures (pure)."""

from __future__ import annotations

from typing import Final

import numpy as np

from live.stride import fourier
from shared.flow import FloatArray

FEWEST: Final = 0.7
"""Share of a window's frames of which the way must be known."""
ALIKE: Final = 0.4
"""Correlation with the landmarks' path, at least (0.65 to 0.99 on the rendered tuning cases)."""
LEAST, MOST = 0.5, 2.0
"""How large the path is against the landmarks' one (0.8 to 1.5 there)."""
WANDER: Final = 0.018
"""How far the landmarks' path may lie off the picture's whatever their sizes, of leg length: they
wander with the legs by up to 1.4 cm, which is more than many runners' pelvis shifts."""
ANYTHING: Final = 0.003
"""A path of that size at least, of leg length: less is what a picture gives in which nothing can be
told from anything (0.29 cm and more in the rendered tuning cases)."""
_SMOOTH: Final = 1.2e-3
"""Per frame against the square of how far the stride goes on in it, so that it weighs the same
however many there are a second; for each harmonic by the fourth power of its order."""
_SMOOTH_DRIFT: Final = 1.2e-5
"""The same for a steady drift along the belt's width."""


def learn_path(
    ways_px: FloatArray, columns: FloatArray, times_s: FloatArray, trust: FloatArray
) -> FloatArray | None:
    """Learn its coefficients, (p,) px, the constant 0.

    ``ways_px`` (n,) since the frame before, NaN where not known; ``columns`` (n, p) of
    ``fourier.basis`` at the frames; ``times_s`` (n,); ``trust`` (n,). None where too few ways are
    known. A way is the path's difference between two phases, whatever the time between them, so
    missing frames do no harm.
    """
    known = np.isfinite(ways_px[1:])
    if known.sum() < max(FEWEST * len(known), columns.shape[1]):
        return None
    orders = np.repeat(np.arange(1.0, columns.shape[1] // 2 + 1), 2)
    differences = np.column_stack([np.diff(columns[:, 1:], axis=0), np.diff(times_s)])
    weights = np.where(known, trust[1:], 0.0)[:, None]
    went2 = float(np.average((differences[:, :2] ** 2).sum(axis=1), weights=weights[:, 0]))
    ridge = np.append(_SMOOTH * orders**4, _SMOOTH_DRIFT) * went2
    ways = np.where(known, ways_px[1:], 0.0)[:, None, None]
    fitted = fourier.fit(differences, ways, weights, ridge)[:-1, 0, 0]
    return np.concatenate([np.zeros(1), fitted])


def follows(path: FloatArray, by_landmarks: FloatArray, leg_px: float) -> bool:
    """Whether a path can be the hips' one, by the landmarks' coefficients (p,) px.

    These wander, but not so far: where nothing in the picture tells one thing from another, as
    black clothes before a black wall, or where something else moves before the hips, it is not.
    """
    own, other = path[1:], by_landmarks[1:]
    sizes = float(np.linalg.norm(own)), float(np.linalg.norm(other))
    if float(np.linalg.norm(own - other)) <= WANDER * leg_px and sizes[0] >= ANYTHING * leg_px:
        return True
    if not LEAST * sizes[1] <= sizes[0] <= MOST * sizes[1]:
        return False
    return float(own @ other) >= ALIKE * sizes[0] * sizes[1]
