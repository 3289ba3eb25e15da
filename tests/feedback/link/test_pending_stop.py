"""A Stop reaches the run that it was meant for, once it can, and no other."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from feedback.link.pending_stop import StopWish


def test_on_a_link_that_is_up_it_goes_out_once() -> None:
    wish = StopWish()
    assert wish.due("a") is None
    wish.ask("a", 5)
    assert wish.due("a") == 5
    assert wish.due("a") is None


def test_after_a_break_it_is_sent_again_with_the_time_it_was_asked_for() -> None:
    wish = StopWish()
    wish.ask("a", 5)
    wish.due("a")
    wish.on_break()
    assert wish.due("") is None  # not known yet which run is on
    assert wish.due("a") == 5


def test_asked_again_it_goes_out_again() -> None:
    wish = StopWish()
    wish.ask("a", 5)
    wish.due("a")
    wish.ask("a", 9)
    assert wish.due("a") == 5


def test_it_never_reaches_a_later_run() -> None:
    wish = StopWish()
    wish.ask("a", 5)
    assert wish.due("b") is None
    assert (wish.too_late, wish.asked_ns, wish.due("a")) == (True, None, None)
    wish.ask("b", 6)
    assert (wish.too_late, wish.due("b")) == (False, 6)


def test_asked_for_before_anything_was_known_it_goes_to_what_is_there() -> None:
    wish = StopWish()
    wish.ask("", 5)
    assert wish.due("a") == 5


@given(
    st.lists(
        st.one_of(
            st.tuples(st.just("ask"), st.sampled_from("ab")),
            st.tuples(st.just("up"), st.sampled_from(["", "a", "b"])),
            st.tuples(st.just("break"), st.just("")),
        )
    )
)
def test_what_is_sent_was_asked_for_that_run(events: list[tuple[str, str]]) -> None:
    wish, meant = StopWish(), ""
    for number, (event, run) in enumerate(events):
        match event:
            case "ask":
                wish.ask(run, number)
                meant = run
            case "break":
                wish.on_break()
            case "up" if wish.due(run) is not None:
                assert run == meant
