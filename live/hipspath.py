"""The hips' sideways path over the mean stride, from how far they went between pictures (pure)."""

from __future__ import annotations

from typing import Final

import numpy as np

from live import harmonics
from shared.records import FloatArray

HARMONICS: Final = 6
FEWEST: Final = 0.7
"""Share of a window's frames of which the way must be known."""
ALIKE: Final = 0.4
"""Correlation with the landmarks' path, at least (0.65 to 0.99 on the rendered tuning cases)."""
LEAST, MOST = 0.5, 2.0
"""How large the path is against the landmarks' one (0.8 to 1.5 there)."""
_SMOOTH: Final = np.append(1e-4 * np.repeat(np.arange(1.0, HARMONICS + 1) ** 4, 2), 1e-6)
"""Per frame, in the picture's own pixels; the last is for a steady drift along the belt's width."""


def learn_path(
    ways_px: FloatArray, theta: FloatArray, times_s: FloatArray, trust: FloatArray
) -> FloatArray | None:
    """Learn it: (2 * HARMONICS + 1,) px, as ``harmonics.basis`` has them, the constant 0.

    ``ways_px`` (n,) since the frame before, NaN where not known; ``theta`` (n,) rad; ``times_s``
    (n,); ``trust`` (n,). None where too few ways are known. A way is the path's difference
    between two phases, whatever the time between them, so missing frames do no harm.
    """
    known = np.isfinite(ways_px[1:])
    if known.sum() < max(FEWEST * len(known), 2 * HARMONICS + 1):
        return None
    columns = np.diff(harmonics.basis(theta, HARMONICS)[:, 1:], axis=0)
    columns = np.column_stack([columns, np.diff(times_s)])
    weights = np.where(known, trust[1:], 0.0)[:, None]
    ways = np.where(known, ways_px[1:], 0.0)[:, None, None]
    fitted = harmonics.fit(columns, ways, weights, _SMOOTH)[:-1, 0, 0]
    return np.concatenate([np.zeros(1), fitted])


def follows(path: FloatArray, by_landmarks: FloatArray) -> bool:
    """Whether a path can be the hips' one, by the landmarks' coefficients (p,).

    These wander, but not so far: where nothing in the picture tells one thing from another, as
    black clothes before a black wall, or where something else moves before the hips, it is not.
    """
    own, other = path[1:], by_landmarks[1:]
    sizes = float(np.linalg.norm(own)), float(np.linalg.norm(other))
    if not LEAST * sizes[1] <= sizes[0] <= MOST * sizes[1]:
        return False
    return float(own @ other) >= ALIKE * sizes[0] * sizes[1]


def path_at(path: FloatArray, theta: FloatArray) -> FloatArray:
    """(n,) px, + to the picture's right, about its mean over the stride."""
    return np.asarray(harmonics.basis(theta, len(path) // 2) @ path)
