"""Whole plans through the real session with the made-up runner: what must hold, whoever runs."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.athlete_files.prescriptions import prescribe
from feedback.simulation.rehearsal import Rehearsed, rehearse
from feedback.simulation.runner import Learner, Nature
from feedback.training.block_results import mean_of, share_inside
from feedback.training.goals import goals_for
from feedback.training.plan import Step
from shared.flow import CueKind, Side, View
from shared.messages import StopReason
from shared.targets import BlockKind, CueStyle, Drill, Prescription, SessionKind
from tests.feedback.training.making import (
    NO_LIMITS,
    UTC,
    athlete,
    baseline,
    block,
    bundled_drill,
    bundled_plan,
    cadence_aim,
    drill,
    own,
    plan,
    prescription,
    strike_aim,
)

EIGHT = bundled_plan("eight_sessions")
CUED, UNCUED = BlockKind.CUED, BlockKind.UNCUED
SHORT = plan((3.0,), (1.5, 1.5), (0.5, 2.5))
TWO = drill(
    cadence_aim(),
    strike_aim(ramp_step_percent=7.5),
    blocks=(block("warm_up", 0.5), block("cued", 1.0), block("cool_down", 0.5)),
    turn_min=1.0,
    pain_every_min=1.0,
)


def held(made: Prescription, nature: Nature = Nature(), seed: int = 1) -> list[Rehearsed]:  # noqa: B008
    return list(rehearse(made, Learner(made.goals, nature, seed)))


def minutes(one: Rehearsed, kind: BlockKind) -> float:
    return sum(b.seconds for b in one.blocks if b.kind is kind) / 60


@pytest.fixture(scope="module")
def eight() -> list[Rehearsed]:
    return held(prescription(bundled_drill("quick_steps"), EIGHT))


def test_the_eight_sessions_and_their_checks_are_run_as_planned(eight: list[Rehearsed]) -> None:
    assert [one.proposal.number for one in eight] == list(range(1, 12))
    assert all(one.done.stop_reason is StopReason.FINISHED for one in eight)
    for one, planned in zip(eight, EIGHT.sessions, strict=True):
        assert minutes(one, CUED) == pytest.approx(planned.cued_min, abs=0.05)
        assert minutes(one, CUED) + minutes(one, UNCUED) == pytest.approx(planned.run_min, abs=0.05)
        assert one.done.share_done == pytest.approx(1.0, abs=0.01)
    share = [minutes(o, CUED) / (minutes(o, CUED) + minutes(o, UNCUED)) for o in eight[:8]]
    assert share == pytest.approx([1, 1, 1, 1, 0.625, 0.385, 0.214, 0.1], abs=0.005)


def test_checks_have_no_cue_but_the_one_reminder(eight: list[Rehearsed]) -> None:
    for one, planned in zip(eight, EIGHT.sessions, strict=True):
        kinds = [cue.kind for cue in one.cues]
        if planned.kind is SessionKind.RETENTION:
            assert kinds == []
        if planned.kind is SessionKind.REMINDER:
            assert kinds == [CueKind.REMINDER]


def test_the_loop_is_closed(eight: list[Rehearsed]) -> None:
    """The runner changes because it is cued: with cues more than without them."""
    first, fifth = eight[0], eight[4]
    for one in (first, fifth):
        cued = mean_of(one.blocks, "cadence", None, "steps/min", CUED)
        assert cued is not None
        assert cued > 163.0  # 160 is its own
    uncued = mean_of(fifth.blocks, "cadence", None, "steps/min", UNCUED)
    assert uncued is not None
    assert 160.5 < uncued < (mean_of(fifth.blocks, "cadence", None, "steps/min", CUED) or 0)
    assert (share_inside(fifth.blocks, "cadence", None, CUED) or 0) > 0.8


def test_a_runner_who_hears_nothing_is_cued_all_the_time() -> None:
    deaf = Nature(answer=0.0, to_the_beat=0.0)
    (one,) = list(
        rehearse(
            prescription(drill(), plan((5.0,))), Learner(prescription().goals, deaf, 1), most=1
        )
    )
    warned = [cue for cue in one.cues if cue.kind is CueKind.OUT_OF_BAND]
    assert len(warned) > 5 * 160 / 8 * 0.8  # one every eight steps, for five minutes
    assert (share_inside(one.blocks, "cadence", None, CUED) or 0) < 0.2


natures = st.builds(
    Nature,
    answer=st.floats(0.0, 1.0),
    to_the_beat=st.floats(0.0, 0.2),
    drift=st.floats(0.0, 0.05),
    wandering=st.floats(0.0, 0.1),
    tiring=st.floats(0.0, 0.1),
    lost=st.sampled_from([0.0, 0.01, 0.05]),
    pain=st.lists(st.integers(0, 8), min_size=1, max_size=4).map(tuple),
    unsettled=st.sets(st.integers(1, 6)).map(frozenset),
)


@settings(deadline=None, max_examples=25)
@given(nature=natures, seed=st.integers(0, 1000), gap=st.integers(4, 16))
def test_what_holds_whoever_runs(nature: Nature, seed: int, gap: int) -> None:
    made = prescription(_with_gap(TWO, gap), SHORT)
    sessions = list(rehearse(made, Learner(made.goals, nature, seed), most=8))
    allowed = [goal.targets for goal in made.goals]
    for one in sessions:
        # no cue but in a block with cues, and only for what is cued there
        cued_blocks = sum(b.kind is CUED for b in one.blocks)
        assert sum(sum(b.cues.values()) for b in one.blocks if b.kind is not CUED) == 0
        assert cued_blocks or not one.cues
        # never two cues within the gap, across targets too
        assert all(b - a >= gap for a, b in pairwise(cue.step_number for cue in one.cues))
        # never on doubtful data, never from an old picture
        assert all(0 <= cue.decided_ns - cue.captured_ns <= 250_000_000 for cue in one.cues)
        # every target in force is one of those that were prescribed, and so within the limits
        for target in one.targets:
            assert any(target in targets for targets in allowed)
            if target.beat_spm is not None:
                assert target.beat_spm <= 160.0 * 1.10
        # pain over its limit ends the session
        if (one.done.pain_worst or 0) > 5 and one.done.stop_reason is not StopReason.FINISHED:
            assert one.done.stop_reason is StopReason.PAIN
    for before, after in pairwise(sessions):
        forward = after.proposal.number == before.proposal.number + 1
        assert after.proposal.number in (before.proposal.number, before.proposal.number + 1)
        fine = (
            (before.done.pain_worst or 0) <= 5
            and before.done.settled_by_morning is True
            and before.done.share_done >= 0.8
        )
        assert not forward or fine
        assert (after.proposal.step is Step.REPEAT) == (not forward)
        assert all(after.done.levels[name] >= level for name, level in before.done.levels.items())


def _with_gap(a_drill: Drill, gap: int) -> Drill:
    aims = tuple(msgspec.structs.replace(aim, cue_gap_steps=gap) for aim in a_drill.aims)
    return msgspec.structs.replace(a_drill, aims=aims)


def test_pain_and_a_bad_morning_hold_the_plan_back() -> None:
    nature = Nature(pain=(1, 7, 1), unsettled=frozenset({1}))
    made = prescription(drill(pain_every_min=1.0), SHORT)
    sessions = list(rehearse(made, Learner(made.goals, nature, 1), most=5))
    assert [one.proposal.number for one in sessions[:3]] == [1, 1, 1]
    assert sessions[1].proposal.reasons == ("hold_not_settled",)
    assert "hold_pain_over" in sessions[2].proposal.reasons
    assert sessions[1].done.stop_reason is StopReason.PAIN


def test_two_aims_are_cued_by_turns_and_never_together() -> None:
    made = prescription(TWO, plan((6.0,)))
    (one,) = held(made, Nature(answer=0.1, to_the_beat=0.0))
    turns = [b.cued for b in one.blocks if b.kind is CUED]
    assert turns == ["cadence", "strike_ahead"] * 3
    assert {cue.measure for cue in one.cues} == {"cadence", "strike_ahead"}


def test_the_same_seed_gives_the_same_plan() -> None:
    made = prescription(drill(), SHORT)
    assert held(made, seed=3) == held(made, seed=3)
    assert held(made, seed=3) != held(made, seed=4)


def test_a_fixed_band_and_spoken_cues_close_the_loop_too() -> None:
    arms = bundled_drill("straight_arms")
    base = baseline(*(own("arm_crossing", side, "cm", 6.0, 1.0) for side in Side), view=View.FRONT)
    goals = goals_for(base, arms, NO_LIMITS)
    made = prescribe(athlete(view=View.FRONT), base, arms, plan((6.0, 2.0)), goals, UTC)
    (one,) = held(made)
    spoken = [cue for cue in one.cues if cue.sound.startswith("say_")]
    assert spoken
    assert CueStyle.SPOKEN in arms.aims[0].cues
    for side in Side:
        mean = mean_of(one.blocks, "arm_crossing", side, "cm", CUED)
        assert mean is not None
        assert mean < 5.0


def test_without_a_plan_there_is_nothing_to_rehearse() -> None:
    made = prescription()
    with pytest.raises(ValueError, match="no plan"):
        next(rehearse(made, Learner(made.goals, Nature(), 1)))
