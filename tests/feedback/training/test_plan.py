"""Plans: the published pattern, and which session is next after what happened."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.texts.training import PHRASES, reasons_in_words
from feedback.training.plan import HOUR_S, Done, Proposal, Step, holding_back, propose, shares
from shared.messages import StopReason
from shared.targets import Limits, SessionKind
from tests.feedback.training.making import NO_LIMITS, bundled_plan, plan

DAY = 24 * HOUR_S
PLAN = plan((10.0,), (5.0, 5.0), (2.0, 8.0))


def done(number: int, day: float, **changes: Any) -> Done:
    fields: dict[str, Any] = {
        "number": number,
        "started_unix_s": round(day * DAY),
        "share_done": 1.0,
        "stop_reason": StopReason.FINISHED,
        "pain_worst": 1,
        "effort": 4,
        "awkwardness": 3,
        "settled_by_morning": True,
        **changes,
    }
    return Done(**fields)


def after(*held: Done, day: float = 100.0, limits: Limits = NO_LIMITS) -> Proposal:
    return propose(PLAN, held, limits, round(day * DAY))


# the published pattern


def test_the_eight_sessions_are_the_published_ones() -> None:
    """Davis et al. 2020, table 1: 15 to 30 min, cues all the time in sessions 1 to 4."""
    practice = [
        one for one in bundled_plan("eight_sessions").sessions if one.kind is SessionKind.PRACTICE
    ]
    assert [one.run_min for one in practice] == [15, 17, 19, 21, 24, 26, 28, 30]
    assert [one.cued_min for one in practice] == [15, 17, 19, 21, 15, 10, 6, 3]
    assert 177 <= sum(one.run_min for one in practice) == 180 <= 196
    share = shares(bundled_plan("eight_sessions"))
    assert share[:4] == (1.0,) * 4
    assert all(a > b for a, b in pairwise(share[3:]))
    assert share[-1] <= 0.10


@pytest.mark.parametrize("name", ["eight_sessions", "five_short"])
def test_cues_are_only_ever_withdrawn_and_sessions_end_without(name: str) -> None:
    the_plan = bundled_plan(name)
    share = shares(the_plan)
    assert all(a >= b for a, b in pairwise(share))
    for one in the_plan.sessions:
        assert one.cued_min <= one.run_min
        if one.cued_min < one.run_min:
            assert len(one.parts_min) % 2 == 0  # the last part is without cues
            assert one.parts_min[-1] > 0
    checks = [one.kind for one in the_plan.sessions if one.kind is not SessionKind.PRACTICE]
    assert {SessionKind.RETENTION, SessionKind.REMINDER} == set(checks)
    for one in the_plan.sessions:
        if one.kind is not SessionKind.PRACTICE:
            assert one.cued_min == 0
            assert one.hours_after >= 24


# what is next


def test_from_the_first_to_the_last() -> None:
    assert after() == Proposal(step=Step.BEGIN, number=1, session=PLAN.sessions[0])
    assert (after(done(1, 1)).step, after(done(1, 1)).number) == (Step.GO_ON, 2)
    last = after(done(1, 1), done(2, 3), done(3, 5))
    assert (last.step, last.session) == (Step.FINISHED, None)


@pytest.mark.parametrize(
    ("changes", "reasons"),
    [
        ({"pain_worst": 6}, ("hold_pain_over",)),
        ({"stop_reason": StopReason.PAIN}, ("hold_pain_over",)),
        ({"pain_worst": None}, ("hold_pain_unknown",)),
        ({"settled_by_morning": False}, ("hold_not_settled",)),
        ({"settled_by_morning": None}, ("hold_morning_unknown",)),
        ({"effort": 7}, ("hold_effort",)),
        ({"share_done": 0.79}, ("hold_not_completed",)),
        ({"pain_worst": 6, "share_done": 0.4}, ("hold_pain_over", "hold_not_completed")),
    ],
)
def test_no_progress_and_why(changes: dict[str, Any], reasons: tuple[str, ...]) -> None:
    proposal = after(done(1, 1), done(2, 3, **changes))
    assert (proposal.step, proposal.number) == (Step.REPEAT, 2)
    assert proposal.reasons == reasons
    assert all(PHRASES[reason] for reason in reasons)
    assert reasons_in_words(reasons)


@pytest.mark.parametrize(
    "changes", [{"pain_worst": 5}, {"effort": 6}, {"effort": None}, {"share_done": 0.8}]
)
def test_at_the_limit_it_goes_on(changes: dict[str, Any]) -> None:
    assert after(done(1, 1, **changes)).step is Step.GO_ON


def test_a_stricter_limit_is_kept() -> None:
    strict = Limits(pain_stop_over=2, effort_caution_from=4)
    assert holding_back([done(1, 1, pain_worst=3)], strict) == ("hold_pain_over", "hold_effort")


def test_pain_may_not_rise_from_week_to_week() -> None:
    rising = (done(1, 1, pain_worst=2), done(2, 9, pain_worst=4))
    assert holding_back(rising, NO_LIMITS) == ("hold_pain_rising",)
    for same in (
        (done(1, 1, pain_worst=4), done(2, 9, pain_worst=4)),
        (done(1, 1, pain_worst=1), done(2, 9, pain_worst=2)),  # under caution
        (done(1, 6, pain_worst=2), done(2, 9, pain_worst=4)),  # the same week
        (done(1, 1, pain_worst=None), done(2, 9, pain_worst=4)),  # nothing to compare with
    ):
        assert "hold_pain_rising" not in holding_back(same, NO_LIMITS)


def test_rest_is_counted_from_the_last_start() -> None:
    assert after(done(1, 1), day=1.5).wait_h == pytest.approx(12.0)
    assert after(done(1, 1), day=2.0).wait_h == 0.0
    assert after(day=0.0).wait_h == 0.0


def test_the_ramp_goes_on_from_where_it_was() -> None:
    assert after(done(1, 1, levels={"steps": 1})).levels == {"steps": 1}


@settings(deadline=None)
@given(
    history=st.lists(
        st.tuples(
            st.sampled_from([None, 0, 2, 4, 6, 10]),
            st.sampled_from([None, True, False]),
            st.floats(0, 1.2),
            st.sampled_from([None, 3, 9]),
        ),
        max_size=14,
    )
)
def test_whatever_happens_no_session_is_skipped_and_pain_is_never_gone_on_from(
    history: list[tuple[int | None, bool | None, float, int | None]],
) -> None:
    the_plan = bundled_plan("eight_sessions")
    held: list[Done] = []
    for day, (pain, settled, share, effort) in enumerate(history):
        proposal = propose(the_plan, held, NO_LIMITS, day * DAY)
        if proposal.step is Step.FINISHED:
            assert held[-1].number == len(the_plan.sessions)
            return
        if held:
            last = held[-1]
            fine = (
                last.pain_worst is not None
                and last.pain_worst <= 5
                and last.settled_by_morning is True
            )
            assert proposal.number in (last.number, last.number + 1)
            assert (proposal.number > last.number) <= fine
            assert (proposal.number > last.number) == (proposal.reasons == ())
        held.append(
            done(
                proposal.number,
                day,
                pain_worst=pain,
                settled_by_morning=settled,
                share_done=share,
                effort=effort,
            )
        )
