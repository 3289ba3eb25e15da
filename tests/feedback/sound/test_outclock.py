"""The driver's clock against the station's, with made-up drivers."""

from __future__ import annotations

import random

import pytest

from feedback.sound.outclock import OutputClock

FALLBACK_NS = 15_000_000
BLOCK_S = 256 / 48_000


@pytest.mark.parametrize(
    ("now_s", "out_s"), [(0.0, 0.0), (100.0, 0.0), (0.0, 100.0), (100.0, 99.0), (100.0, 103.0),
                         (float("nan"), 100.0), (100.0, float("nan")), (100.0, 100.0)]
)  # fmt: skip
def test_useless_stamps_fall_back_to_the_stated_latency(now_s: float, out_s: float) -> None:
    clock = OutputClock(FALLBACK_NS)
    assert clock.sounds_at_ns(5_000_000_000, now_s, out_s) == 5_015_000_000


def test_waits_of_the_callback_do_not_move_the_result() -> None:
    """Truth: the block sounds 10 ms after the driver's present; the callback waits 0 to 8 ms."""
    clock, chance = OutputClock(FALLBACK_NS), random.Random(5)
    errors_ms = []
    for block in range(2_000):
        true_ns = 3_000_000_000 + round(block * BLOCK_S * 1e9)
        driver_s = 1_700_000_000.0 + block * BLOCK_S
        wait_ns = round(chance.uniform(0.0, 8e6))
        got = clock.sounds_at_ns(true_ns + wait_ns, driver_s, driver_s + 0.010)
        errors_ms.append((got - true_ns - 10_000_000) / 1e6)
    assert max(abs(error) for error in errors_ms[100:]) < 0.3


def test_a_drifting_driver_clock_is_followed() -> None:
    """100 ppm over ten minutes is 60 ms; the result is never more than 1 ms off."""
    clock = OutputClock(FALLBACK_NS)
    for block in range(112_500):
        true_ns = round(block * BLOCK_S * 1e9)
        driver_s = 50.0 + block * BLOCK_S * (1 - 1e-4)
        got = clock.sounds_at_ns(true_ns, driver_s, driver_s + 0.010)
        assert abs(got - true_ns - 10_000_000) < 1_000_000
