"""The one-slot mailbox: newest wins, nothing is seen twice, nobody waits for a slow reader."""

from __future__ import annotations

import threading

from hypothesis import given
from hypothesis import strategies as st

from shared.mailbox import Latest


def test_the_newest_wins_and_the_replaced_are_counted() -> None:
    box: Latest[int] = Latest()
    for number in range(5):
        box.put(number)
    assert box.replaced == 4
    assert box.take(0) == 4
    assert box.take(0) is None
    assert box.replaced == 4


@given(st.lists(st.booleans(), max_size=60))
def test_what_was_put_was_either_taken_or_replaced_or_lies_there(puts: list[bool]) -> None:
    box: Latest[int] = Latest()
    put, taken = 0, []
    for is_put in puts:
        if is_put:
            put += 1
            box.put(put)
        elif (item := box.take(0)) is not None:
            taken.append(item)
    left = box.take(0)
    assert put == len(taken) + box.replaced + (left is not None)
    assert taken == sorted(set(taken))


def test_a_waiting_reader_wakes_for_an_item_put_by_another_thread() -> None:
    box: Latest[str] = Latest()
    found: list[str | None] = []
    reader = threading.Thread(target=lambda: found.append(box.take(30.0)))
    reader.start()
    box.put("frame")
    reader.join(30.0)
    assert found == ["frame"]


def test_a_fast_writer_never_waits_and_the_reader_sees_the_last_item() -> None:
    box: Latest[int] = Latest()
    last, seen = 20_000, [0]

    def read() -> None:
        while seen[-1] != last:
            item = box.take(30.0)
            assert item is not None
            seen.append(item)

    reader = threading.Thread(target=read)
    reader.start()
    for number in range(1, last + 1):
        box.put(number)
    reader.join(30.0)
    assert not reader.is_alive()
    assert seen == sorted(set(seen))
    assert box.replaced == last - (len(seen) - 1)


def test_falsy_items_are_items() -> None:
    box: Latest[int] = Latest()
    box.put(0)
    assert box.take(0) == 0


def test_a_newer_item_replaces_the_one_in_hand() -> None:
    box: Latest[int] = Latest()
    box.put(2)
    assert box.take_newer(1, 0) == 2
    assert box.replaced == 1


def test_the_item_in_hand_is_kept_where_no_newer_one_comes() -> None:
    box: Latest[int] = Latest()
    assert box.take_newer(1, 0) == 1
    assert box.replaced == 0


def test_whoever_waits_for_a_newer_item_can_be_woken() -> None:
    box: Latest[int] = Latest()
    box.wake()
    assert box.take_newer(1, 30.0) == 1


def test_an_item_is_unread_until_it_is_taken() -> None:
    box: Latest[int] = Latest()
    told = [box.unread]
    box.put(1)
    told.append(box.unread)
    box.take(0.0)
    told.append(box.unread)
    assert told == [False, True, False]
