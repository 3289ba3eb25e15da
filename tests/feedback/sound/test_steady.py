"""Blocks on the computer's clock, with made-up outputs that drift, stutter and run dry."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable

import numpy as np
import pytest
from scipy import signal

from feedback.sound.beat import BeatGrid
from feedback.sound.steady import SteadyClock

RATE_HZ = 48_000
BLOCK = 256
BLOCK_S = BLOCK / RATE_HZ
FIRST_NS = 5_000_000_000_000_000


class Output:
    """An output that is ``ppm`` late on its nominal rate, with a beat placed by the clock."""

    def __init__(self, ppm: float, noise_ns: Callable[[], float] = lambda: 0.0) -> None:
        self.clock = SteadyClock(RATE_HZ)
        self.grid = BeatGrid(RATE_HZ)
        self.stretch = 1.0 + ppm * 1e-6
        self.noise_ns = noise_ns
        self.true_ns = 0.0
        self.frames = 0
        self.placed: list[tuple[float, float]] = []
        self.beats: list[tuple[float, int]] = []
        """(when it is heard, s of the computer's clock; the sample)."""

    def run(self, seconds: float, spm: float | None = None) -> None:
        for _ in range(round(seconds / BLOCK_S)):
            start, length = self.clock.place(
                BLOCK, FIRST_NS + round(self.true_ns + self.noise_ns())
            )
            self.placed.append((start, length))
            self.grid.set_tempo(spm, start)
            beat = self.grid.take(start, length)
            if beat is not None:
                offset = beat[0] * BLOCK / length
                heard = self.true_ns / 1e9 + offset / RATE_HZ * self.stretch
                self.beats.append((heard, self.frames + round(offset)))
            self.frames += BLOCK
            self.true_ns += BLOCK_S * 1e9 * self.stretch

    def drift_ms_per_min(self, spm: float) -> float:
        """The beat against the computer's clock; + when it comes too late."""
        heard = np.array([at for at, _ in self.beats])
        exact = np.arange(len(heard)) * 60.0 / spm
        return float(np.polyfit(exact / 60.0, (heard - exact) * 1e3, 1)[0])


def test_an_output_that_keeps_time_is_left_alone() -> None:
    output = Output(0.0)
    output.run(60.0)
    for number, (start, length) in enumerate(output.placed):
        assert start == pytest.approx(number * BLOCK, abs=0.01)
        assert length == pytest.approx(BLOCK, abs=1e-3)


@pytest.mark.parametrize("ppm", [-250.0, -30.0, 100.0, 400.0])
@pytest.mark.parametrize("noise_ms", [0.0, 2.0])
def test_the_beat_keeps_to_the_computers_clock(ppm: float, noise_ms: float) -> None:
    """Also with stamps that are off by 2 ms: 5 min within 0.1 ms a minute, and even to 0.1 ms."""
    chance = random.Random(11)
    output = Output(ppm, lambda: chance.gauss(0.0, noise_ms * 1e6))
    output.run(30.0)
    output.run(300.0, 168.0)
    assert len(output.beats) == pytest.approx(840, abs=1)
    assert abs(output.drift_ms_per_min(168.0)) < 0.1
    intervals_ms = np.diff([at for _, at in output.beats]) / RATE_HZ * 1e3
    assert float(np.std(intervals_ms)) < 0.1


def test_blocks_follow_each_other_without_gap_or_overlap() -> None:
    chance = random.Random(3)
    output = Output(200.0, lambda: chance.gauss(0.0, 3e6))
    output.run(20.0)
    output.true_ns += 60e6
    output.run(20.0)
    for (start, length), (after, _) in itertools.pairwise(output.placed):
        assert length > 0.0
        assert after == start + length


@pytest.mark.parametrize("gap_ms", [-30.0, 5.0, 40.0, 900.0])
def test_after_the_output_ran_dry_the_beat_goes_on_as_before(gap_ms: float) -> None:
    """In the sound itself no interval is shorter or longer, and the loop does not swing."""
    output = Output(-250.0)
    output.run(60.0, 168.0)
    output.true_ns += gap_ms * 1e6
    output.run(60.0, 168.0)
    intervals_ms = np.diff([at for _, at in output.beats]) / RATE_HZ * 1e3
    exact_ms = 60_000.0 / 168.0
    assert np.all(np.abs(intervals_ms - exact_ms) < 0.2)
    output.beats = output.beats[-100:]
    assert abs(output.drift_ms_per_min(168.0)) < 0.1


def test_a_single_late_stamp_moves_nothing() -> None:
    output, calm = Output(0.0), Output(0.0)
    calm.run(40.0)
    output.run(20.0)
    output.true_ns += 50e6
    output.run(9 * BLOCK_S)
    output.true_ns -= 50e6
    output.run(20.0 - 9 * BLOCK_S)
    assert np.array(output.placed) == pytest.approx(np.array(calm.placed), abs=0.01)


def test_a_clock_that_cannot_be_true_is_followed_no_further_than_any_output_goes() -> None:
    """Stamps that stand still, as from a broken driver: the beat goes on near its tempo."""
    clock = SteadyClock(RATE_HZ)
    for _ in range(10_000):
        _, length = clock.place(BLOCK, 0)
        assert length == pytest.approx(BLOCK, rel=0.003)


def test_the_loop_answers_a_drift_as_a_second_order_loop_must() -> None:
    """Its error after a sudden drift, against scipy's answer for 1 / (s^2 + sqrt(2) w s + w^2).

    The form of a damped second-order phase lock is textbook matter (from memory); w is 2 pi times
    the bandwidth of 0.05 Hz.
    """
    ppm = 250.0
    output = Output(ppm)
    output.run(40.0)
    error_ms = [
        (number * BLOCK * output.stretch - start) / RATE_HZ * 1e3
        for number, (start, _) in enumerate(output.placed)
    ]
    omega = 2.0 * np.pi * 0.05
    times = np.arange(len(error_ms)) * BLOCK_S
    _, expected = signal.impulse(([1.0, 0.0], [1.0, 2**0.5 * omega, omega**2, 0.0]), T=times)
    assert np.max(np.abs(expected)) * ppm * 1e-3 > 0.3
    assert error_ms == pytest.approx(expected * ppm * 1e-3, abs=0.01)
