"""The volume on the panel between what was asked, what was answered, and what the station says."""

from __future__ import annotations

from feedback.screens.clinician.requests import Message, MessageTone
from feedback.screens.clinician.volume import Turning, louder, softer

DONE = Message("Done", MessageTone.GOOD)
SENT = Message("Sent", MessageTone.WAITING)
REFUSED = Message("Not done", MessageTone.BAD)


def test_a_press_goes_to_the_next_round_value_and_never_past_the_ends() -> None:
    assert [softer(percent) for percent in (100, 85, 80, 15, 10)] == [90, 80, 70, 10, 10]
    assert [louder(percent) for percent in (10, 15, 80, 95, 100)] == [20, 20, 90, 100, 100]


def test_what_was_answered_is_shown_until_a_snapshot_made_after_it() -> None:
    turning = Turning()
    turning.take_in(100, 7, None, waits=False)
    turning.ask(90)
    turning.take_in(100, 8, SENT, waits=True)
    assert (turning.shown, turning.base) == (100, 90)
    turning.take_in(100, 8, DONE, waits=False)
    assert (turning.shown, turning.base) == (90, 90)
    turning.take_in(100, 9, DONE, waits=False)
    assert turning.shown == 90, "that snapshot may be from before"
    turning.take_in(40, 10, DONE, waits=False)
    assert (turning.shown, turning.base) == (40, 40), "somebody else's word counts again"


def test_what_was_refused_leaves_what_the_station_says() -> None:
    for told in (REFUSED, None):
        turning = Turning()
        turning.ask(90)
        turning.take_in(100, 8, told, waits=False)
        assert (turning.shown, turning.base) == (100, 100)


def test_a_station_that_began_anew_counts_from_one_again() -> None:
    turning = Turning()
    turning.ask(90)
    turning.take_in(100, 900, DONE, waits=False)
    turning.take_in(70, 1, DONE, waits=False)
    assert turning.shown == 70
