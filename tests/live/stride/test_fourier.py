"""Fourier series over the stride, against numpy's own least squares and plain differences."""

from __future__ import annotations

import numpy as np
import pytest

from live.stride import fourier


@pytest.mark.parametrize("theta_rad", [-7.3, 0.0, 0.4, 3.1, 250.0])
def test_one_angle_gives_the_row_of_the_basis_and_its_slope(theta_rad: float) -> None:
    row, slope = fourier.rows(theta_rad, 6)
    step = 1e-6
    around = fourier.basis(np.array([theta_rad - step, theta_rad, theta_rad + step]), 6)
    assert row == pytest.approx(around[1], abs=1e-12)
    assert slope == pytest.approx((around[2] - around[0]) / (2.0 * step), abs=1e-6)


def test_each_point_is_fitted_by_weighted_ridge_least_squares() -> None:
    """As numpy.linalg.lstsq solves it, the ridge written as further rows of the equations."""
    rng = np.random.default_rng(4)
    columns = fourier.basis(np.sort(rng.uniform(0.0, 20.0, 90)), 3)
    values, weights = rng.normal(size=(90, 5, 2)), rng.uniform(0.1, 1.0, (90, 5))
    ridge = fourier.smoothness(3, 0.05)
    found = fourier.fit(columns, values, weights, ridge)
    for point in range(5):
        root = np.sqrt(weights[:, point])[:, None]
        held = np.diag(np.sqrt(ridge * weights[:, point].sum() + 1e-9))
        left = np.vstack([root * columns, held])
        right = np.vstack([root * values[:, point], np.zeros((len(ridge), 2))])
        expected = np.linalg.lstsq(left, right, rcond=None)[0]
        assert found[:, point] == pytest.approx(expected, abs=1e-9)


def test_a_point_without_weight_comes_back_zero() -> None:
    columns = fourier.basis(np.linspace(0.0, 6.0, 30), 2)
    weights = np.ones((30, 2))
    weights[:, 1] = 0.0
    found = fourier.fit(columns, np.ones((30, 2, 1)), weights, np.zeros(5))
    assert found[0, 0, 0] == pytest.approx(1.0)
    assert found[:, 1] == pytest.approx(0.0)
