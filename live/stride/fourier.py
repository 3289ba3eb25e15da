"""Fourier series over the stride: basis, weighted fit, values and slopes."""

from __future__ import annotations

from typing import Final

import numpy as np

from shared.flow import FloatArray

TWO_PI: Final = 2.0 * np.pi
GRID: Final = 360
PHASES: Final = np.arange(GRID) * TWO_PI / GRID
"""Once round the stride."""
_ROUNDS: Final = 3
_MOST: Final = 12
_ORDERS: Final = np.concatenate([np.zeros(1), np.repeat(np.arange(1.0, _MOST + 1), 2)])
_SHIFTS: Final = np.pi / 2.0 * np.array([[0.0, *[0.0, -1.0] * _MOST], [1.0, *[1.0, 0.0] * _MOST]])
_SIZES: Final = np.stack([np.ones(2 * _MOST + 1), _ORDERS])
"""Any column, and any column's derivative, is a cosine: one call for all at one angle."""


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


def rows(theta_rad: float, harmonics: int) -> FloatArray:
    """(2, 2 * harmonics + 1): :func:`basis` at one angle, and its derivative there."""
    used = slice(2 * harmonics + 1)
    return np.asarray(_SIZES[:, used] * np.cos(theta_rad * _ORDERS[used] + _SHIFTS[:, used]))


def fit(
    columns: FloatArray, values: FloatArray, weights: FloatArray, ridge: FloatArray
) -> FloatArray:
    """Weighted ridge least squares, one fit per point, shared by its coordinates.

    ``columns`` (n, p), ``values`` (n, c, d), ``weights`` (n, c), ``ridge`` (p,) relative to
    the sum of a point's weights. Returns (p, c, d). Points without any weight come back zero.
    """
    return _solved(columns, _products(columns), values, weights, ridge)


def _products(columns: FloatArray) -> FloatArray:
    """(n, p * p): every column with every other, the same whatever the weights."""
    return (columns[:, :, None] * columns[:, None, :]).reshape(len(columns), -1)


def _solved(
    columns: FloatArray,
    products: FloatArray,
    values: FloatArray,
    weights: FloatArray,
    ridge: FloatArray,
) -> FloatArray:
    count, width = columns.shape
    # One product of two matrices for all points; point by point it takes ten times as long.
    normal = (weights.T @ products).reshape(-1, width, width)
    diagonal = np.arange(width)
    normal[:, diagonal, diagonal] += ridge * weights.sum(axis=0)[:, None] + 1e-9
    weighted = (weights[:, :, None] * values).reshape(count, -1)
    right = (columns.T @ weighted).reshape(width, *values.shape[1:]).transpose(1, 0, 2)
    return np.linalg.solve(normal, right).transpose(1, 0, 2).astype(np.float64, copy=False)


def fit_robustly(
    columns: FloatArray, xy: FloatArray, trust: FloatArray, ridge: FloatArray, scale: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """:func:`fit` of points in the plane, in which what lies far off counts little.

    ``columns`` (n, p), ``xy`` (n, c, 2), ``trust`` (n, c), ``ridge`` (p,). A point of one frame
    that lies ``scale`` off the fit counts half, then fitted anew: iteratively reweighted least
    squares with Cauchy's weights, three rounds. Returns the coefficients (p, c, 2), the squared
    distances from the fit (n, c) and the weights by these (n, c).
    """
    products = _products(columns)
    robust = trust
    for _ in range(_ROUNDS):
        fitted = _solved(columns, products, xy, robust, ridge)
        off = xy - np.tensordot(columns, fitted, 1)
        distance2 = off[:, :, 0] ** 2 + off[:, :, 1] ** 2  # numpy's sum over two takes ten times
        robust = trust / (1.0 + distance2 / scale**2)
    return fitted, distance2, robust


def smoothness(harmonics: int, strength: float, extra_columns: int = 0) -> FloatArray:
    """Ridge that grows with the fourth power of the harmonic: holds back only fine wiggles."""
    order = np.repeat(np.arange(1, harmonics + 1), 2).astype(np.float64)
    penalty = strength * (order / harmonics) ** 4
    return np.concatenate([np.zeros(1), penalty, np.zeros(extra_columns)])


def relative_wave(curve: FloatArray, base: int, times: int) -> complex:
    """A higher wave of a curve against a lower one, whatever its size and where it begins.

    ``curve`` (n,) once round a stride. Its wave that comes ``base * times`` times in a stride, as a
    share of the one that comes ``base`` times, in the phase that it has where that one is highest.
    """
    waves = np.fft.rfft(curve)
    size = max(abs(complex(waves[base])), 1e-9)
    back = complex(waves[base]).conjugate() / size
    return complex(waves[base * times]) * back**times / size
