"""Fourier series over the stride: basis, weighted fit, values and slopes."""

from __future__ import annotations

from typing import Final

import numpy as np

from shared.records import FloatArray

TWO_PI: Final = 2.0 * np.pi


def basis(theta_rad: FloatArray, harmonics: int) -> FloatArray:
    """Columns 1, cos(theta), sin(theta), cos(2 theta), ... for each angle.

    ``theta_rad`` (n,) or a scalar array; returns (n, 2 * harmonics + 1).
    """
    angles = np.multiply.outer(np.atleast_1d(theta_rad), np.arange(1, harmonics + 1))
    columns = np.empty((angles.shape[0], 2 * harmonics + 1))
    columns[:, 0] = 1.0
    columns[:, 1::2] = np.cos(angles)
    columns[:, 2::2] = np.sin(angles)
    return columns


def slope_basis(theta_rad: FloatArray, harmonics: int) -> FloatArray:
    """Derivative of :func:`basis` with respect to theta; same shape."""
    order = np.arange(1, harmonics + 1)
    angles = np.multiply.outer(np.atleast_1d(theta_rad), order)
    columns = np.empty((angles.shape[0], 2 * harmonics + 1))
    columns[:, 0] = 0.0
    columns[:, 1::2] = -order * np.sin(angles)
    columns[:, 2::2] = order * np.cos(angles)
    return columns


def fit(
    columns: FloatArray, values: FloatArray, weights: FloatArray, ridge: FloatArray
) -> FloatArray:
    """Weighted ridge least squares, one fit per point, shared by its coordinates.

    ``columns`` (n, p), ``values`` (n, c, d), ``weights`` (n, c), ``ridge`` (p,) relative to
    the sum of a point's weights. Returns (p, c, d). Points without any weight come back zero.
    """
    weighted = columns.T[None, :, :] * weights.T[:, None, :]
    normal = weighted @ columns
    diagonal = np.arange(columns.shape[1])
    normal[:, diagonal, diagonal] += ridge * weights.sum(axis=0)[:, None] + 1e-9
    right = weighted @ values.transpose(1, 0, 2)
    return np.linalg.solve(normal, right).transpose(1, 0, 2).astype(np.float64, copy=False)


def smoothness(harmonics: int, strength: float, extra_columns: int = 0) -> FloatArray:
    """Ridge that grows with the fourth power of the harmonic: holds back only fine wiggles."""
    order = np.repeat(np.arange(1, harmonics + 1), 2).astype(np.float64)
    penalty = strength * (order / harmonics) ** 4
    return np.concatenate([np.zeros(1), penalty, np.zeros(extra_columns)])
