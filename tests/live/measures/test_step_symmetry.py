"""How far apart the contacts lie: known by construction, and the likeness against numpy's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from live.measures import step_symmetry
from live.measures.contact_signs import curves_of
from live.measures.step_symmetry import MOST_OFF, half_turn
from live.stride import fourier
from live.stride.fourier import GRID, PHASES, TWO_PI
from live.stride.mean_stride import HARMONICS, MeanStride
from live.stride.sample import RIGID
from live.stride.vertical import VerticalMotion
from shared.flow import FloatArray, Side, View
from shared.landmarks import LANDMARK_COUNT
from shared.landmarks import Landmark as Lm

TURN = np.pi + np.radians(6.0)
"""Left contact to right contact."""
PX_PER_M = 100.0


def coefficients_of(curve: FloatArray) -> FloatArray:
    columns = fourier.basis(PHASES, HARMONICS)
    return np.asarray(np.linalg.lstsq(columns, curve, rcond=None)[0])


def leg(theta: FloatArray) -> FloatArray:
    """Forward movement of a foot, px: no symmetry of its own."""
    return np.asarray(100 * np.cos(theta) + 25 * np.cos(2 * theta + 0.7) + 8 * np.sin(3 * theta))


def fall(theta: FloatArray) -> FloatArray:
    """One side's share of the body's way down, px: a bump around its contact."""
    return np.asarray(12.0 * np.exp(3.0 * (np.cos(theta - 0.5) - 1.0)))


def mean_stride(far_leg: float = 1.0, forward: float = 1.0) -> MeanStride:
    """A stride whose right side does what the left one does, TURN later."""
    coefficients = np.zeros((2 * HARMONICS + 1, LANDMARK_COUNT, 2))
    for joint, size in ((Lm.LEFT_KNEE, 0.5), (Lm.LEFT_ANKLE, 1.0)):
        coefficients[:, joint, 0] = forward * size * coefficients_of(leg(PHASES))
        right = far_leg * leg(PHASES - TURN) + 20.0
        coefficients[:, joint + 1, 0] = forward * size * coefficients_of(right)
    coefficients[:, RIGID, 1] = coefficients_of(fall(PHASES) + fall(PHASES - TURN))[:, None]
    return MeanStride(
        coefficients=coefficients,
        root=np.zeros((2 * HARMONICS + 1, 2)),
        spread=np.ones(LANDMARK_COUNT),
        bounce=VerticalMotion(np.zeros(2 * HARMONICS + 1), 1.0),
        rate_hz=1.4,
        strides=6.0,
        hips_path=np.zeros(2 * HARMONICS + 1),
        hips_seen=False,
    )


def turn_of(mean: MeanStride, by_feet: dict[Side, float], forward: float = 1.0) -> float:
    left, right = (
        curves_of(mean, View.SIDE, side, forward, PX_PER_M) for side in (Side.LEFT, Side.RIGHT)
    )
    return half_turn(left, right, 0.2, by_feet)


def contacts(turn: float) -> dict[Side, float]:
    return {Side.LEFT: 0.2, Side.RIGHT: (0.2 + turn) % TWO_PI}


@pytest.mark.parametrize("forward", [1.0, -1.0])
def test_it_finds_what_was_built_in(forward: float) -> None:
    found = turn_of(mean_stride(forward=forward), contacts(TURN), forward)
    assert found == pytest.approx(TURN, abs=np.radians(0.3))


def test_without_the_feet_the_body_alone_tells() -> None:
    """The other side's fall reaches into the stretch, so a part of the six degrees is lost: one at
    most."""
    found = turn_of(mean_stride(), {})
    assert found == pytest.approx(TURN, abs=np.radians(1.0))


def test_a_far_leg_that_looks_smaller_and_is_placed_elsewhere_changes_nothing() -> None:
    near, far = (turn_of(mean_stride(far_leg=size), contacts(TURN))
                 for size in (1.0, 0.7))  # fmt: skip
    assert far == pytest.approx(near, abs=1e-6)


def test_the_feet_count_for_a_third() -> None:
    right, off = (turn_of(mean_stride(), contacts(TURN + more))
                  for more in (0.0, 0.09))  # fmt: skip
    assert off - right == pytest.approx(0.03, abs=1e-6)


def test_likeness_is_the_coefficient_of_correlation() -> None:
    """Against numpy.corrcoef."""
    rng = np.random.default_rng(3)
    one, other = rng.normal(size=(2, GRID))
    stretch = np.arange(-40, 41)
    found = step_symmetry._likeness(one, other, stretch)
    assert len(found) == 2 * MOST_OFF + 1
    for at in (0, 7, MOST_OFF, 2 * MOST_OFF):
        later = GRID // 2 - MOST_OFF + at
        expected = np.corrcoef(one[stretch % GRID], other[(stretch + later) % GRID])[0, 1]
        assert found[at] == pytest.approx(expected, abs=1e-12)


def test_a_stride_without_movement_gives_a_finite_angle() -> None:
    still = mean_stride()
    still.coefficients[:] = 0.0
    still = replace(still)
    assert np.isfinite(turn_of(still, contacts(np.pi)))
