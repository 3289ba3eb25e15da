"""Where a replay stands in time, and which picture is shown for a contact."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.screens.replay.model import (
    FAR_NS,
    Clip,
    Contact,
    Run,
    Speed,
    frame_at,
    nearest_frame,
    pair_up,
)
from shared.flow import EventKind, Side
from shared.pictures import Mark

L, R = Side.LEFT, Side.RIGHT
MS = 1_000_000
CONTACT, TOE_OFF = EventKind.CONTACT, EventKind.TOE_OFF
TIMES = st.lists(st.integers(0, 10_000), min_size=1, max_size=40, unique=True).map(sorted)


def contact(side: Side, at: int) -> Contact:
    return Contact(side, at, 0)


def clip(*contacts: tuple[Side, int], step_ms: int = 33, count: int = 100) -> Clip:
    """Pictures every ``step_ms``; contacts at times in ms."""
    marks = tuple(Mark(CONTACT, side, at * MS) for side, at in contacts)
    return Clip(tuple(number * step_ms * MS for number in range(count)), marks)


@pytest.mark.parametrize(
    ("at", "frame"),
    [(-5, 0), (0, 0), (4, 0), (5, 1), (6, 1), (10, 1), (14, 1), (15, 2), (19, 2), (20, 2), (99, 2)],
)
def test_a_contact_is_shown_by_the_nearest_picture_and_of_two_by_the_later(
    at: int, frame: int
) -> None:
    assert nearest_frame([0, 10, 20], at) == frame


@given(TIMES, st.integers(-100, 10_100))
def test_no_picture_is_nearer_than_the_nearest(times: list[int], at: int) -> None:
    frame = nearest_frame(times, at)
    away = [abs(time - at) for time in times]
    assert away[frame] == min(away)
    assert frame == max(number for number, far in enumerate(away) if far == min(away))


@given(TIMES, st.integers(-100, 10_100))
def test_the_picture_that_stands_is_the_newest_that_is_not_later(times: list[int], at: int) -> None:
    frame = frame_at(times, at)
    assert times[frame] <= at or frame == 0
    assert frame == len(times) - 1 or times[frame + 1] > at


def test_contacts_are_jumped_to_by_side_and_never_twice() -> None:
    found = clip((L, 350), (R, 700), (L, 1_050), (R, 1_400))
    assert [(one.side, one.frame) for one in found.contacts] == [(L, 11), (R, 21), (L, 32), (R, 42)]
    seen, frame = [], 0
    while (to := found.next_contact(L, frame)) is not None:
        seen.append(to.frame)
        frame = to.frame
    assert seen == [11, 32]
    back = found.previous_contact(R, 99)
    assert back is not None
    assert back.frame == 42
    back = found.previous_contact(R, 42)
    assert back is not None
    assert back.frame == 21
    assert found.previous_contact(R, 21) is None
    assert found.next_contact(R, 42) is None


def test_only_contacts_are_jumped_to_and_none_where_pictures_were_missed() -> None:
    times = (0, 33 * MS, 66 * MS, 400 * MS)
    marks = (
        Mark(CONTACT, R, 66 * MS + FAR_NS + 1),  # in the gap
        Mark(CONTACT, L, 66 * MS + FAR_NS),
        Mark(TOE_OFF, R, 33 * MS),
    )
    assert Clip(times, marks).contacts == (Contact(L, 66 * MS + FAR_NS, 2),)


def test_a_contact_before_the_first_or_after_the_last_picture_cannot_be_looked_at() -> None:
    found = clip((L, -1), (R, 0), (L, 3_267), (R, 3_268))
    assert [(one.side, one.frame) for one in found.contacts] == [(R, 0), (L, 99)]


def test_marks_in_any_order_give_contacts_in_order_of_time() -> None:
    found = clip((R, 700), (L, 350), (L, 1_050))
    assert [one.at_ns // MS for one in found.contacts] == [350, 700, 1_050]


@pytest.mark.parametrize(
    ("times", "interval"),
    [((0,), 33_333_333), ((0, 20), 20), ((0, 33, 66, 166), 33), ((0, 10, 40), 30)],
)
def test_the_usual_interval_is_not_moved_by_a_gap(times: tuple[int, ...], interval: int) -> None:
    assert Clip(times).interval_ns == interval


@pytest.mark.parametrize(
    ("speed", "at"), [(Speed.FULL, 400), (Speed.HALF, 200), (Speed.QUARTER, 100)]
)
def test_a_slower_speed_takes_as_many_times_as_long(speed: Speed, at: int) -> None:
    run = Run(0, 1_000, 0)
    run.set_speed(speed, 5)
    run.play(50)
    run.tick(450)
    assert run.at_ns == at
    assert run.playing


def test_many_small_ticks_lose_no_time() -> None:
    run = Run(0, 10_000, 0)
    run.set_speed(Speed.QUARTER, 0)
    run.play(0)
    for now in range(0, 4_001, 7):
        run.tick(now)
    run.tick(4_000)
    assert run.at_ns == 1_000


def test_a_change_of_speed_goes_on_from_the_same_place() -> None:
    run = Run(0, 10_000, 0)
    run.set_speed(Speed.FULL, 0)
    run.play(0)
    run.set_speed(Speed.QUARTER, 1_000)
    run.tick(1_400)
    assert run.at_ns == 1_100
    run.set_speed(Speed.HALF, 1_400)
    run.tick(1_500)
    assert run.at_ns == 1_150


def test_it_stays_at_the_end_and_plays_again_from_the_beginning() -> None:
    run = Run(100, 200, 150)
    run.set_speed(Speed.FULL, 0)
    run.play(0)
    run.tick(5_000)
    assert (run.at_ns, run.playing) == (200, False)
    run.play(6_000)
    assert (run.at_ns, run.playing) == (100, True)
    run.tick(6_030)
    assert run.at_ns == 130


def test_going_somewhere_stops_the_clock_and_stays_inside() -> None:
    run = Run(100, 200, 150)
    run.play(0)
    run.go(10)
    assert (run.at_ns, run.playing) == (100, False)
    run.go(999)
    assert run.at_ns == 200
    run.go(170)
    run.tick(10_000)
    assert run.at_ns == 170


def test_a_clock_that_goes_back_does_not_move_it_back() -> None:
    run = Run(0, 100, 50)
    run.play(1_000)
    run.tick(900)
    assert run.at_ns == 50


def test_neighbours_go_together_newest_first() -> None:
    left, right = [contact(L, at) for at in (1, 3, 5)], [contact(R, at) for at in (2, 4)]
    pairs = pair_up(sorted((*left, *right), key=lambda one: one.at_ns))
    assert [(pair.left, pair.right) for pair in pairs] == [
        (left[2], right[1]),
        (left[1], right[0]),
        (left[0], right[0]),  # there is none before it: the nearest stands in
    ]


def test_a_missed_contact_does_not_put_all_others_out_of_step() -> None:
    one = [contact(L, 10), contact(R, 20), contact(L, 30), contact(L, 50), contact(R, 60)]
    pairs = pair_up(one)
    assert [(p.left.at_ns, p.right.at_ns) for p in pairs if p.left and p.right] == [
        (50, 60),
        (30, 20),
        (10, 20),
    ]


def test_one_side_alone_has_nothing_beside_it() -> None:
    pairs = pair_up([contact(R, 10), contact(R, 20)])
    assert [(pair.left, pair.right) for pair in pairs] == [
        (None, contact(R, 20)),
        (None, contact(R, 10)),
    ]
    assert pair_up([]) == ()


@given(st.lists(st.tuples(st.sampled_from(Side), st.integers(0, 10_000)), max_size=30))
def test_the_first_pair_has_the_newest_of_each_side_and_every_contact_is_in_one(
    raw: list[tuple[Side, int]],
) -> None:
    contacts = [contact(side, at) for side, at in sorted(set(raw), key=lambda one: one[1])]
    pairs = pair_up(contacts)
    shown = [one for pair in pairs for one in (pair.left, pair.right) if one is not None]
    assert set(shown) == set(contacts)
    assert all(pair.left is None or pair.left.side is L for pair in pairs)
    assert all(pair.right is None or pair.right.side is R for pair in pairs)
    if pairs:
        newest = {side: [one for one in contacts if one.side is side][-1:] for side in Side}
        for side, first in ((L, pairs[0].left), (R, pairs[0].right)):
            assert ([] if first is None else [first]) == newest[side]
