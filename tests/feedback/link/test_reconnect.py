"""Whom a console calls that has lost its station, and when; time is a plain integer."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.link.address import Address
from feedback.link.reconnect import (
    FIRST_WAIT_NS,
    HEAD_START_NS,
    HELD_NS,
    LONGEST_WAIT_NS,
    MOST_AT_ONCE,
    MOST_AT_ONE_HOST,
    MOST_MET,
    MOST_REMEMBERED,
    STAGGER_AGAIN_NS,
    STAGGER_NS,
    CallOutcome,
    Calls,
)
from shared.units import NS_PER_MS, NS_PER_S

HOME = Address("192.0.2.1", 47820)
LONGEST_CALL_NS = 9 * NS_PER_S // 2
"""Reached in 1.5 s at the latest, then handshakes of 3 s at most."""


def computers(count: int, port: int = 4001) -> tuple[Address, ...]:
    """False stations, each at a computer of its own."""
    return tuple(Address(f"198.51.100.{number}", port) for number in range(count))


class Run:
    """Calls that all end as ``how`` says, in simulated time."""

    def __init__(self, places: tuple[Address, ...]) -> None:
        self.calls = Calls()
        self.places = places
        self.begun: list[tuple[int, Address]] = []
        self.now_ns = 0
        self.most_out = 0
        self._ends: list[tuple[int, Address, CallOutcome]] = []
        self.calls.begin(0)

    def until(self, end_ns: int, how: dict[Address, tuple[int, CallOutcome]]) -> None:
        """``how``: how long a call lasts and its outcome; others say nothing for the longest."""
        while self.now_ns <= end_ns:
            self.calls.offer(self.places)
            for place in self.calls.due(self.now_ns):
                self.begun.append((self.now_ns, place))
                lasts_ns, outcome = how.get(place, (LONGEST_CALL_NS, CallOutcome.SILENT))
                self._ends.append((self.now_ns + lasts_ns, place, outcome))
            self.most_out = max(self.most_out, len(self.calls.out))
            due_ns = self.calls.next_ns(self.now_ns)
            times = [end[0] for end in self._ends] + ([] if due_ns is None else [due_ns])
            self.now_ns = max(self.now_ns, min(times))
            for end in [end for end in self._ends if end[0] <= self.now_ns]:
                self._ends.remove(end)
                self.calls.ended(end[1], end[2], self.now_ns)

    def first_ns(self, place: Address) -> int:
        return next(at_ns for at_ns, one in self.begun if one == place)


outcomes = st.tuples(st.integers(0, LONGEST_CALL_NS), st.sampled_from(sorted(CallOutcome)))
crowds = st.lists(
    st.builds(
        lambda host, port: Address(f"198.51.100.{host}", port),
        st.integers(1, 40),
        st.integers(1, 12),
    ),
    max_size=120,
    unique=True,
)


@settings(max_examples=25, deadline=None)
@given(crowd=crowds, ends=st.lists(outcomes, min_size=1, max_size=10), home=outcomes)
def test_home_is_called_at_once_and_ever_again_whatever_others_do(
    crowd: list[Address], ends: list[tuple[int, CallOutcome]], home: tuple[int, CallOutcome]
) -> None:
    run = Run((HOME, *crowd))
    how = {place: ends[index % len(ends)] for index, place in enumerate(crowd)} | {HOME: home}
    run.until(12 * NS_PER_S, how)
    assert run.begun[0] == (0, HOME)
    at_home = [at_ns for at_ns, place in run.begun if place == HOME]
    for one_ns, next_ns in pairwise(at_home):
        assert next_ns - one_ns <= home[0] + LONGEST_WAIT_NS
    # The caps, and no faster than the rate.
    others = [at_ns for at_ns, place in run.begun if place != HOME]
    assert all(later - sooner >= STAGGER_NS for sooner, later in pairwise(others))
    assert not others or others[0] >= HEAD_START_NS
    assert run.most_out <= MOST_AT_ONCE + MOST_MET
    # No computer waits for another's failure: every one is called in its turn, at the full rate.
    hosts = list(dict.fromkeys(place.host for place in crowd))
    in_turn = [place.host for _, place in run.begun if place != HOME][: len(hosts)]
    assert sorted(in_turn) == sorted(hosts)
    full_ns = HEAD_START_NS + (len(hosts) - 1) * STAGGER_NS
    assert not hosts or others[len(hosts) - 1] <= full_ns + len(hosts)


@given(crowd=crowds)
def test_no_computer_has_more_than_its_share_of_calls_at_once(crowd: list[Address]) -> None:
    calls = Calls()
    calls.begin(0)
    calls.offer((HOME, *crowd))
    for now_ns in range(0, 10 * NS_PER_S, STAGGER_NS):
        calls.due(now_ns)
    out = Counter(place.host for place in calls.out if place != HOME)
    assert all(count <= MOST_AT_ONE_HOST for count in out.values())
    assert sum(out.values()) <= MOST_AT_ONCE


def test_one_computer_with_many_false_ports_costs_the_real_one_next_to_nothing() -> None:
    real = Address("192.0.2.7", 5000)
    false = tuple(Address("198.51.100.9", 1000 + number) for number in range(230))
    run = Run((HOME, *false, real))
    run.until(5 * NS_PER_S, {HOME: (NS_PER_MS, CallOutcome.NO_ANSWER)})
    assert run.first_ns(real) <= HEAD_START_NS + STAGGER_NS


@pytest.mark.parametrize("outcome", [CallOutcome.FALSE, CallOutcome.SILENT, CallOutcome.NO_ANSWER])
def test_two_hundred_and_thirty_computers_are_all_called_within_ten_seconds(
    outcome: CallOutcome,
) -> None:
    false = computers(230)
    run = Run((HOME, *false))
    run.until(10 * NS_PER_S, dict.fromkeys(false, (LONGEST_CALL_NS, outcome)))
    assert {place for _, place in run.begun} == {HOME, *false}


def test_what_was_shown_to_be_false_is_left_alone_longer_each_time() -> None:
    (false,) = computers(1)
    run = Run((HOME, false))
    run.until(400 * NS_PER_S, {false: (NS_PER_MS, CallOutcome.FALSE)})
    times = [at_ns for at_ns, place in run.begun if place == false]
    assert [round((b - a) / NS_PER_S) for a, b in pairwise(times)] == [30, 60, 120]


def test_who_did_not_answer_is_called_again_soon_however_long_the_cable_is_out() -> None:
    (moved,) = computers(1)
    run = Run((HOME, moved))
    run.until(600 * NS_PER_S, {moved: (NS_PER_S, CallOutcome.NO_ANSWER)})
    times = [at_ns for at_ns, place in run.begun if place == moved]
    assert max(b - a for a, b in pairwise(times)) <= 6 * NS_PER_S + STAGGER_AGAIN_NS


def test_where_the_link_held_is_home_from_then_on_and_the_old_home_still_is() -> None:
    (new,) = computers(1)
    calls = Calls()
    calls.begin(0)
    calls.offer((HOME, new))
    assert calls.due(HEAD_START_NS) == (HOME, new)
    calls.joined()
    calls.left(new, HELD_NS, NS_PER_S)
    calls.begin(NS_PER_S)
    assert calls.met == (new, HOME)
    assert calls.due(NS_PER_S + FIRST_WAIT_NS) == (new, HOME)


def test_a_link_that_breaks_at_once_makes_no_home() -> None:
    (relay,) = computers(1)
    calls = Calls()
    calls.begin(0)
    calls.offer((HOME, relay))
    calls.due(HEAD_START_NS)
    calls.joined()
    calls.left(relay, HELD_NS - 1, NS_PER_S)
    calls.begin(NS_PER_S)
    assert calls.met == (HOME,)
    assert calls.due(NS_PER_S + HEAD_START_NS) == (HOME,)  # the relay rests


def test_the_memory_is_bounded() -> None:
    calls = Calls()
    for turn in range(MOST_REMEMBERED // 4):
        calls.begin(turn * NS_PER_S)
        calls.offer((HOME, *(Address(f"h{turn}x{number}", 1) for number in range(8))))
        for number in range(8):
            for place in calls.due(turn * NS_PER_S + HEAD_START_NS + number * STAGGER_NS):
                calls.ended(place, CallOutcome.FALSE, turn * NS_PER_S)
    assert len(calls._known) == MOST_REMEMBERED


def test_without_a_place_nothing_is_due() -> None:
    calls = Calls()
    calls.begin(0)
    calls.offer(())
    assert calls.due(NS_PER_S) == ()
    assert calls.next_ns(NS_PER_S) is None
