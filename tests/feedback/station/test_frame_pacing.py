"""When a frame is passed over for the next one, in plain integers."""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.station.frame_pacing import CameraRate, FramePacing
from shared.units import NS_PER_S

INTERVAL_NS = 16_000_000
BUSY_NS = 13_000_000
MS = 1_000_000


def used_to(interval_ns: int, busy_ns: int, frames: int = 16) -> FramePacing:
    pace = FramePacing()
    for index in range(frames):
        pace.measured(index * interval_ns, index, busy_ns)
    return pace


def test_a_frame_is_passed_over_from_half_way_to_the_next_one_on() -> None:
    pace = used_to(INTERVAL_NS, BUSY_NS)
    assert pace.wait_ns(0) == 0
    assert pace.wait_ns(8 * MS) == 0
    assert pace.wait_ns(9 * MS) == 7 * MS + 4 * MS  # till it is due, and a quarter
    assert pace.wait_ns(15 * MS) == 1 * MS + 4 * MS
    assert pace.wait_ns(16 * MS) == 0  # the next one is overdue: who knows when it comes
    assert pace.wait_ns(500 * MS) == 0


def test_nothing_is_passed_over_until_the_usual_times_are_known() -> None:
    assert FramePacing().wait_ns(9 * MS) == 0
    assert used_to(INTERVAL_NS, BUSY_NS, 15).wait_ns(9 * MS) == 0
    assert used_to(INTERVAL_NS, BUSY_NS, 16).wait_ns(9 * MS) > 0


def test_a_slow_computer_passes_frames_over_where_30_a_second_are_measured_even_so() -> None:
    assert used_to(INTERVAL_NS, 25_333_333).wait_ns(9 * MS) > 0
    assert used_to(INTERVAL_NS, 25_333_334).wait_ns(9 * MS) == 0


def test_where_frames_are_few_none_is_passed_over() -> None:
    assert used_to(20 * MS, BUSY_NS).wait_ns(15 * MS) == 10 * MS
    assert used_to(20 * MS + 1, BUSY_NS).wait_ns(15 * MS) == 0
    assert used_to(33 * MS, BUSY_NS).wait_ns(20 * MS) == 0


def test_frames_that_were_lost_and_single_hiccups_do_not_change_what_is_usual() -> None:
    pace = FramePacing()
    captured_ns = 0
    for index in range(0, 60, 2):  # every second one was lost
        captured_ns = index * INTERVAL_NS
        pace.measured(captured_ns, index, BUSY_NS)
    pace.measured(captured_ns + 300 * MS, 60, 200 * MS)
    assert pace.wait_ns(9 * MS) == 11 * MS


class Read(NamedTuple):
    """One frame that was measured."""

    captured_ns: int
    begun_ns: int
    done_ns: int
    instead: bool
    """Whether the one before it was passed over."""

    @property
    def age_ns(self) -> int:
        return self.begun_ns - self.captured_ns


def read(busy_ns: list[int], passing: bool) -> list[Read]:
    """A reader of frames that come every INTERVAL_NS, one slot, newest first."""
    pace, free_ns, index, done = used_to(INTERVAL_NS, BUSY_NS), 0, 0, []
    for busy in busy_ns:
        index = max(index, free_ns // INTERVAL_NS)  # what it replaced is lost
        start_ns = max(free_ns, index * INTERVAL_NS)
        instead = passing and pace.wait_ns(start_ns - index * INTERVAL_NS) > 0
        if instead:
            index += 1
            start_ns = index * INTERVAL_NS
        free_ns = start_ns + busy
        done.append(Read(index * INTERVAL_NS, start_ns, free_ns, instead))
        pace.measured(index * INTERVAL_NS, index, busy)
        index += 1
    return done


def mean_delay_ns(done: list[Read]) -> float:
    """From any instant to the end of the first frame that was captured after it, on average."""
    spans = [
        (after.captured_ns - before.captured_ns, after.done_ns, before.captured_ns)
        for before, after in pairwise(done)
    ]
    return sum(span * (end - start - span / 2) for span, end, start in spans) / sum(
        span for span, _, _ in spans
    )


def test_one_slow_frame_makes_one_frame_late_instead_of_four() -> None:
    """Without passing over it is the waiting time in a queue with one server:
    W' = max(0, W + service - interval) (Lindley 1952, Proc. Cambridge Phil. Soc. 48; from memory).
    """
    busy = [BUSY_NS, 28 * MS, *[BUSY_NS] * 8]
    waits = [0]
    for one in busy[:-1]:
        waits.append(max(0, waits[-1] + one - INTERVAL_NS))
    late = [one.age_ns for one in read(busy, passing=False)]
    assert late == waits
    assert [age // MS for age in late] == [0, 0, 12, 9, 6, 3, 0, 0, 0, 0]
    passing = read(busy, passing=True)
    assert [one.age_ns for one in passing] == [0] * 10
    assert [one.instead for one in passing] == [False, False, True, *[False] * 7]


@given(st.lists(st.integers(5 * MS, 15 * MS), min_size=5, max_size=40))
def test_no_measured_frame_is_older_than_half_the_time_to_the_next(busy: list[int]) -> None:
    done = read([BUSY_NS, 26 * MS, *busy], passing=True)
    assert max(one.age_ns for one in done) <= INTERVAL_NS // 2


@pytest.mark.parametrize("busy_ms", range(17, 24))
def test_on_a_slow_computer_what_a_foot_does_is_known_sooner_by_it(busy_ms: int) -> None:
    """Averaged over all instants: the first frame that can show it was captured no earlier."""
    busy = [busy_ms * MS] * 400
    passing, each = read(busy, passing=True), read(busy, passing=False)
    assert mean_delay_ns(passing) < mean_delay_ns(each)
    assert passing[-1].captured_ns <= 400 * NS_PER_S // 30


@pytest.mark.parametrize("busy_ms", [26, 30, 45])
def test_a_computer_slower_than_that_measures_every_frame_it_can(busy_ms: int) -> None:
    done = read([busy_ms * MS] * 60, passing=True)
    assert not any(one.instead for one in done[8:])  # it is seen to be slow by then


def low_after(rates: list[tuple[float, float | None]]) -> list[float | None]:
    """What was found too low, after each of the seconds and rates."""
    watch = CameraRate()
    found = []
    for at_s, rate in rates:
        watch.add(rate, round(at_s * NS_PER_S))
        found.append(watch.low_per_s)
    return found


def test_a_slow_camera_is_noticed_after_some_seconds_and_until_it_is_quick_again() -> None:
    assert low_after([(0, 15.0), (2.9, 14.0), (3.0, 14.0), (9.0, 22.5)])[1:] == [None, 14.0, 14.0]
    assert low_after([(0, 1.0), (3, 1.0), (4, 23.5), (5, 1.0), (7.9, 1.0), (8, 1.0)]) == [
        None, 1.0, None, None, None, 1.0
    ]  # fmt: skip
    assert low_after([(0, 1.0), (2, None), (3, 1.0), (5, 1.0)]) == [None] * 4  # it was lost
    assert low_after([(second, 24.0) for second in range(9)]) == [None] * 9
