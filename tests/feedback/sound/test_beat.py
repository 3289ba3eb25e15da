"""The beat's grid: exact tempo for minutes on end, phase kept when tempo or beat changes."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.sound.beat import BeatGrid

RATE_HZ = 48_000
BLOCK = 256


class Runner:
    """Asks a grid block by block, as the audio callback does."""

    def __init__(self, spm: float | None) -> None:
        self.grid = BeatGrid(RATE_HZ)
        self.spm = spm
        self.at = 0
        self.beats: list[tuple[int, bool]] = []

    def run(self, seconds: float) -> list[int]:
        """Go on for a time; gives the positions of the beats of that time."""
        before = len(self.beats)
        for _ in range(round(seconds * RATE_HZ / BLOCK)):
            self.grid.set_tempo(self.spm, self.at)
            while (beat := self.grid.take(self.at, BLOCK)) is not None:
                offset, left = beat
                assert 0 <= offset < BLOCK
                self.beats.append((self.at + int(offset), left))
            self.at += BLOCK
        return [at for at, _ in self.beats[before:]]


@pytest.mark.parametrize("spm", [120.0, 163.7, 170.0, 181.3, 220.0])
def test_ten_minutes_without_drift(spm: float) -> None:
    """Each beat is within one sample of its exact place, to the last."""
    beats = Runner(spm).run(600.0)
    assert len(beats) == pytest.approx(spm * 10, abs=1)
    for number, at in enumerate(beats):
        exact = number * 60.0 * RATE_HZ / spm
        assert abs(at - exact) < 1.001


def test_first_beat_comes_at_once_and_sides_take_turns() -> None:
    runner = Runner(170.0)
    runner.run(20.0)
    assert runner.beats[0] == (0, True)
    sides = [left for _, left in runner.beats]
    assert all(one != two for one, two in itertools.pairwise(sides))


@pytest.mark.parametrize(("old", "new"), [(170.0, 175.0), (175.0, 170.0), (160.0, 168.0)])
@pytest.mark.parametrize("when_s", [5.02, 5.1, 5.2, 5.28])
def test_tempo_change_keeps_the_phase(old: float, new: float, when_s: float) -> None:
    """The next beat comes one new interval after the last one, and the sides go on in turn."""
    runner = Runner(old)
    last = runner.run(when_s)[-1]
    runner.spm = new
    after = runner.run(5.0)
    interval = 60.0 * RATE_HZ / new
    for number, at in enumerate(after, start=1):
        assert at == pytest.approx(last + number * interval, abs=2.0)
    sides = [left for _, left in runner.beats]
    assert all(one != two for one, two in itertools.pairwise(sides))


def test_a_beat_already_overdue_at_the_new_tempo_comes_at_once_and_only_once() -> None:
    runner = Runner(120.0)
    last = runner.run(5.4)[-1]
    changed_at = runner.at
    assert changed_at - last > 60.0 * RATE_HZ / 220.0
    runner.spm = 220.0
    after = runner.run(2.0)
    assert after[0] == changed_at
    assert after[1] - after[0] == pytest.approx(60.0 * RATE_HZ / 220.0, abs=1.0)


def test_short_pause_comes_back_in_step_with_the_right_side() -> None:
    runner, steady = Runner(170.0), Runner(170.0)
    runner.run(5.0)
    runner.spm = None
    assert runner.run(1.0) == []
    runner.spm = 170.0
    runner.run(3.0)
    steady.run(9.0)
    assert set(runner.beats) < set(steady.beats)
    missed = set(steady.beats) - set(runner.beats)
    assert len(missed) in (2, 3)


def test_long_pause_starts_anew_with_the_left() -> None:
    runner = Runner(170.0)
    runner.run(5.0)
    runner.spm = None
    runner.run(2.5)
    back_at = runner.at
    runner.spm = 170.0
    assert runner.run(1.0)[0] == back_at
    assert runner.beats[-3][1] is True


def test_return_at_another_tempo_keeps_turn_and_phase() -> None:
    runner = Runner(160.0)
    runner.run(5.0)
    runner.spm = None
    runner.run(0.5)
    runner.spm = 176.0
    after = runner.run(2.0)
    old = 60.0 * RATE_HZ / 160.0
    last_point = (runner.at - 2.0 * RATE_HZ) // old * old
    assert after[0] == pytest.approx(last_point + 60.0 * RATE_HZ / 176.0, abs=BLOCK)
    heard_before = [b for b in runner.beats if b[0] < 5.0 * RATE_HZ]
    points_between = round((after[0] - heard_before[-1][0]) / old)
    _, left = runner.beats[len(heard_before)]
    assert left == heard_before[-1][1] ^ (points_between % 2 == 1)


@given(
    changes=st.lists(
        st.tuples(
            st.one_of(st.none(), st.floats(min_value=60.0, max_value=300.0)),
            st.floats(min_value=0.005, max_value=3.0),
        ),
        min_size=1,
        max_size=12,
    )
)
def test_never_a_double_beat_whatever_changes(
    changes: list[tuple[float | None, float]],
) -> None:
    """Beats are at least one interval of the fastest tempo apart, but for a fresh start."""
    runner = Runner(None)
    for spm, seconds in changes:
        runner.spm = spm
        runner.run(seconds)
    shortest = 60.0 * RATE_HZ / 300.0
    for (one, _), (two, _) in itertools.pairwise(runner.beats):
        assert two - one >= shortest - 1.0
