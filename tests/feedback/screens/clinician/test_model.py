"""What the panel shows follows from what it knows: nothing old looks new, nothing is guessed."""

from __future__ import annotations

import math
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.link.client_state import LinkState
from feedback.screens.clinician.measure_rows import MeasureRow, band_text, measure_rows
from feedback.screens.clinician.model import (
    LATE_NS,
    Card,
    PanelShowing,
    show_panel,
    station_now_ns,
)
from feedback.texts.clinician import TEXTS, say
from shared.catalogue import CATALOGUE, offered
from shared.clock import now_ns
from shared.flow import BandState, Side, View
from shared.messages import BlockNote, SessionState, Snapshot, StopReason
from shared.problems import describe
from shared.targets import BlockKind, Question
from tests.feedback.screens.panel_examples import (
    BLOCKS,
    briefing,
    known,
    own,
    readings,
    running,
    states,
    target,
)
from tests.feedback.screens.panel_feed import AT_NS, S


def shown(snapshot: Snapshot | None = None, **more: Any) -> PanelShowing:
    return show_panel(known(snapshot or running(), **more), now_ns())


def row(name: str, **more: Any) -> MeasureRow:
    fields: dict[str, Any] = {
        "view": View.SIDE,
        "readings": readings(),
        "own": own(),
        "targets": (),
        "silent_s": 0.0,
        **more,
    }
    rows = measure_rows(**fields)
    return next(one for one in rows if one.name == name)


def card(**changes: Any) -> Card:
    return shown(running(targets=(target(**changes),))).cards[0]


# measures


@pytest.mark.parametrize("view", View)
def test_every_measure_has_a_row_with_values_or_a_reason(view: View) -> None:
    rows = measure_rows(view, readings(view), own(view), (), 0.0)
    given_names = [spec.name for spec in offered(view)]
    assert [one.name for one in rows if not one.why_not] == given_names
    assert {one.name for one in rows} == set(CATALOGUE)
    for one in rows:
        assert bool(one.why_not) != bool(one.left)
        spec = CATALOGUE[one.name]
        if view not in spec.views:
            assert one.why_not == "Not from this view"
        assert bool(one.right) == (spec.by_side and not one.why_not)


def test_both_sides_stand_with_uncertainty_against_baseline() -> None:
    one = row("strike_ahead")
    assert (one.left, one.right) == ("15.1 ±1.2", "14.2 ±1.2")
    assert (one.own_left, one.own_right) == ("13.6", "13.6")
    assert one.changes == ("+1.4", "+0.6")
    assert one.title == "Foot ahead at contact, cm"


def test_a_change_that_may_be_chance_stands_in_brackets() -> None:
    small = tuple(msgspec.structs.replace(one, least_change=1.0) for one in own())
    assert row("strike_ahead", own=small).changes == ("+1.4", "(+0.6)")


def test_a_small_uncertainty_is_not_rounded_to_nothing() -> None:
    assert row("cadence", readings=readings(uncertainty=0.4)).left == "168 ±0.4"


def test_a_baseline_in_another_unit_is_left_out() -> None:
    other = tuple(msgspec.structs.replace(one, unit="% leg") for one in own())
    one = row("strike_ahead", own=other)
    assert (one.own_left, one.own_right, one.changes) == ("", "", ())


def test_one_side_without_a_value_is_a_dash() -> None:
    only_left = tuple(one for one in readings() if one.side is not Side.RIGHT)
    one = row("contact_time", readings=only_left)
    assert one.right == "\u2013"
    assert one.changes[-1] == "\u2013"


def test_a_value_that_is_no_number_is_a_dash() -> None:
    one = row("contact_time", readings=readings(value=math.nan))
    assert (one.left, one.right, one.quality) == ("\u2013", "\u2013", "")


def test_poor_quality_and_age_are_told() -> None:
    assert row("trunk_lean").quality == "0.91"
    assert row("trunk_lean", readings=readings(age_ms=2_600.0)).quality == "0.91, 3 s"
    poor = row("trunk_lean", readings=readings(quality=0.2))
    assert (poor.quality, poor.doubtful, poor.old) == ("0.20 low", True, False)
    late = row("trunk_lean", readings=readings(age_ms=2_600.0), silent_s=4.0)
    assert (late.quality, late.old) == ("old", True)


def test_the_worse_of_two_sided_targets_is_told() -> None:
    both = (
        target(measure="pelvic_shift", unit="cm", side=Side.LEFT, low=None, high=3.0,
               state=BandState.INSIDE),
        target(measure="pelvic_shift", unit="cm", side=Side.RIGHT, low=None, high=2.5,
               state=BandState.ABOVE),
    )  # fmt: skip
    one = row("pelvic_shift", view=View.BEHIND, readings=readings(View.BEHIND), targets=both)
    assert one.target == "L up to 3.0  R up to 2.5"
    assert (one.now, one.state) == ("above", BandState.ABOVE)


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(171.0, 179.0, "171 to 179"), (171.0, None, "from 171"), (None, 179.0, "up to 179")],
)
def test_a_band_in_words(low: float | None, high: float | None, text: str) -> None:
    assert band_text(low, high, 0) == text


# targets


def test_a_card_says_what_holds_and_how_far_it_may_go() -> None:
    one = card(by_hand=True, can_undo=True)
    assert one.band == "Target 171 to 179 steps/min, beat 175"
    assert one.value == "168: below target"
    assert one.notes == "cued now · set manually"
    assert one.allowed == "Allowed now: 167 to 177 steps/min"
    assert (one.least, one.most, one.step) == (167.0, 177.0, 1.0)
    assert one.can_undo


@given(st.floats(-50, 250), st.floats(0.0, 30.0), st.sampled_from(sorted(CATALOGUE)))
def test_what_can_be_chosen_is_always_allowed(least: float, width: float, measure: str) -> None:
    one = card(measure=measure, unit=CATALOGUE[measure].units[0], aim_least=least,
               aim_most=least + width)  # fmt: skip
    assert one.step > 0
    if one.movable:
        assert least - 1e-6 <= one.least < one.most <= least + width + 1e-6
        for value in (one.least, one.most):
            assert round(value, one.decimals) == pytest.approx(value, abs=1e-9)
    else:
        assert one.allowed == say("target_fixed")


def test_a_target_without_a_value_says_so() -> None:
    assert card(value=None, state=BandState.UNKNOWN).value == say("target_no_value")
    assert card(value=168.0, state=BandState.UNKNOWN).value == say("target_no_value")


def test_who_changed_it_is_known() -> None:
    assert shown().cards[0].changed_by == "Consulting room 2"
    assert shown().cards[1].changed_by == ""


# the session


@pytest.mark.parametrize("state", SessionState)
def test_every_state_is_told(state: SessionState) -> None:
    showing = shown(running(state=state, stop_reason=StopReason.TIME))
    assert showing.state == say(f"state_{state}")
    assert showing.stoppable == (state is not SessionState.STOPPED)
    assert showing.changeable == (
        state in (SessionState.READY, SessionState.RUNNING, SessionState.PAUSED)
    )
    assert showing.pausable == (state is SessionState.RUNNING)
    assert showing.can_go_on == (state is SessionState.PAUSED)


@pytest.mark.parametrize("reason", [*StopReason, None])
def test_every_end_has_its_reason(reason: StopReason | None) -> None:
    showing = shown(running(state=SessionState.STOPPED, stop_reason=reason, saved=True))
    assert showing.more[0].startswith(say(f"reason_{reason or 'unknown'}"))
    assert say("saved") in showing.more[0]
    assert say("belt_runs_on") in showing.more[0]


def test_a_record_that_was_not_saved_is_no_ordinary_end() -> None:
    over: dict[str, Any] = {"state": SessionState.STOPPED, "stop_reason": StopReason.TIME}
    assert shown(running(**over, saved=True)).state_well
    lost = shown(running(**over, saved=False))
    assert not lost.state_well
    assert say("not_saved") in lost.more[0]


def test_a_recorded_clip_has_no_belt() -> None:
    over: dict[str, Any] = {"state": SessionState.STOPPED, "stop_reason": StopReason.FINISHED}
    assert say("belt_runs_on") not in shown(running(**over, demo=True)).more[0]


def test_head_tells_block_time_and_belt() -> None:
    assert shown().more == (
        "Block 2 of 6: With cues, 2:15 remaining · 6:35 elapsed, 23:25 remaining",
    )
    steps = BlockNote(
        number=3, count=6, kind=BlockKind.UNCUED, line="block_uncued", remaining_steps=120,
        belt_speed_kmh=10.5, belt_changes=True,
    )  # fmt: skip
    line = shown(running(block=steps)).more[0]
    assert line.startswith("Block 3 of 6: Without cues, 120 steps remaining · Set belt to 10.5 km")


def test_blocks_show_what_is_done_on_and_to_come() -> None:
    showing = shown()
    assert showing.blocks[0].text.endswith("done")
    assert showing.blocks[1].on
    assert showing.blocks[1].on
    assert showing.blocks[2].text == "3  Without cues, 200 steps, 10 km/h"
    assert showing.blocks[3].text == "4  With cues: Foot ahead at contact, 2.5 min, 10.5 km/h"
    assert (showing.block_now, showing.next_block) == (2, 3)


def test_there_is_no_block_after_the_last() -> None:
    last = BlockNote(
        number=len(BLOCKS), count=len(BLOCKS), kind=BlockKind.COOL_DOWN, line="block_cool_down"
    )
    assert shown(running(block=last)).next_block is None
    assert shown(running(block=None)).next_block is None
    assert shown(briefing=briefing(blocks=())).next_block is None


def test_problems_say_what_to_do() -> None:
    moved = describe("camera_moved")
    line = shown(running(problems=(moved,))).problems[0]
    assert line.text == f"{moved.title} {moved.action}"
    assert not line.well
    assert shown().problems[0] == shown(running(problems=())).problems[0]
    assert shown().problems[0].well


def test_who_runs_unmeasured_is_not_waited_for() -> None:
    waiting = say("state_ready")
    for problems, state in (
        ((), waiting),
        ((describe("no_runner"),), waiting),
        ((describe("legs_alike"),), say("state_ready_unmeasured")),
    ):
        assert shown(running(state=SessionState.READY, problems=problems)).state == state


def test_quality_line() -> None:
    poor = tuple(msgspec.structs.replace(one, quality=0.31) for one in readings()[:1])
    assert shown(running(readings=(*poor, *readings()[1:]))).quality == (
        "30 frames/s, 21 ms to decision · lowest quality 0.31"
    )
    assert "no decision yet" in shown(running(decision_ms=None)).quality
    silent = shown(running(sound_on=False, demo=True)).special
    assert silent == "sound is off · recorded clip"


def test_a_few_consoles_are_named_and_many_counted() -> None:
    assert shown(running(consoles=())).company == ""
    assert shown(running(consoles=("Office", "Home"))).company == "Consoles: Office, Home"
    many = tuple(f"Consulting room {number}" for number in range(20))
    assert shown(running(consoles=many)).company == "Consoles: 20"


def test_ratings_know_what_is_asked_and_the_limit() -> None:
    showing = shown(running(asked=Question.EFFORT, pain=4), briefing=briefing(pain_stop_over=3))
    assert (showing.asked, showing.pain, showing.pain_limit) == (
        Question.EFFORT,
        "Last pain rating: 4",
        3,
    )


# the link


@pytest.mark.parametrize("name", states())
def test_something_is_shown_in_every_state(name: str) -> None:
    showing = show_panel(states()[name], now_ns())
    assert showing.state
    assert showing.link.text
    assert showing.stoppable or name == "stopped"


def test_a_late_station_makes_everything_old_and_asks_nothing() -> None:
    fresh, late = shown(ago_ns=LATE_NS // 2), shown(ago_ns=LATE_NS + S)
    assert fresh.live
    assert not fresh.old
    assert late.old
    assert not late.live
    assert not late.changeable
    assert not late.pausable
    assert late.next_block is None
    assert late.asked is None
    assert "2.0 s" in late.link.text
    assert not late.link.well
    assert late.state == "Running (last known)"
    assert late.problems == (), "an old 'no problem' would be a lie"
    assert late.stoppable


@pytest.mark.parametrize("state", [LinkState.LOST, LinkState.CONNECTING])
def test_a_lost_link_is_told_with_its_age(state: LinkState) -> None:
    showing = shown(state=state, ago_ns=8 * S, lost_ns=now_ns() - 8 * S)
    assert showing.old
    assert showing.link.text.startswith("No connection for 8 s")
    assert showing.link_short == "no connection for 8 s"
    assert [one.old for one in showing.rows if one.left] == [True] * len(offered(View.SIDE))


def test_a_station_that_nobody_calls_again_is_gone() -> None:
    """The panel's own link is made once: it never said that it was looked for."""
    showing = shown(state=LinkState.LOST, ago_ns=8 * S)
    assert showing.old
    assert showing.link.text == say("link_gone")
    assert not showing.link.well


def test_a_stop_that_did_not_get_through_is_told() -> None:
    on_its_way = shown(stop_asked=True)
    assert on_its_way.state == say("state_stopping")
    lost = shown(stop_asked=True, state=LinkState.LOST, ago_ns=3 * S)
    assert lost.state == say("state_stop_unsent")
    assert not lost.state_well
    assert lost.stoppable
    nobody = show_panel(known(None, LinkState.CONNECTING, stop_asked=True, briefing=None), now_ns())
    assert nobody.state == say("state_stop_unsent")


def test_a_session_that_stopped_is_stopped_whatever_the_link_does() -> None:
    over = running(state=SessionState.STOPPED, stop_reason=StopReason.CONSOLE, saved=True)
    showing = shown(over, state=LinkState.LOST, ago_ns=9 * S, stop_asked=True)
    assert showing.state == say("state_stopped")
    assert not showing.stoppable


def test_a_refusal_says_why() -> None:
    refused = show_panel(states()["refused"], now_ns())
    assert "Its key is unknown" in refused.link.text


def test_the_stations_clock_goes_on_while_it_is_heard_and_stands_still_after() -> None:
    status = known(running())
    assert status.heard_ns is not None
    assert station_now_ns(status, status.heard_ns + 40) == AT_NS + 40
    assert station_now_ns(status, status.heard_ns + 90 * S) == AT_NS + LATE_NS
    assert station_now_ns(known(None), now_ns()) is None


def test_every_text_that_is_built_from_a_name_exists() -> None:
    for kind in BlockKind:
        assert f"kind_{kind}" in TEXTS
    for question in Question:
        assert {f"rating_{question}", f"rating_about_{question}"} <= set(TEXTS)
    for state in BandState:
        assert f"now_{state}" in TEXTS
