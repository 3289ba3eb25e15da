"""A drill block by block: lengths, turns, ramp, questions; and a plan's session laid out."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from feedback.training.course import Due
from feedback.training.drill import DrillRun, RunBlock, lay_out, planned_ns
from shared.flow import BandState
from shared.targets import BlockKind, Drill, Limits, PlanSession, Question, SessionKind
from tests.feedback.training.making import (
    NO_LIMITS,
    block,
    bundled_drill,
    bundled_plan,
    cadence_aim,
    drill,
    goals,
    strike_aim,
)

MINUTE = 60_000_000_000
TWO = drill(cadence_aim(), strike_aim())


def run_of(a_drill: Drill, session: PlanSession | None = None, **more: object) -> DrillRun:
    number = more.pop("number", 1)
    blocks = lay_out(a_drill, 10.1, session, number)  # type: ignore[arg-type]
    return DrillRun(blocks, goals(a_drill), a_drill, NO_LIMITS, **more)  # type: ignore[arg-type]


def at(run: DrillRun, *minutes: float) -> list[Due]:
    return [run.advance(round(one * MINUTE), 0) for one in minutes]


def kinds(blocks: tuple[RunBlock, ...]) -> list[tuple[str, float, int | None]]:
    return [(b.kind.value, (b.length_ns or 0) / MINUTE, b.aim) for b in blocks]


# laid out


def test_a_drills_own_blocks() -> None:
    blocks = lay_out(drill(), 10.1)
    assert kinds(blocks) == [
        ("warm_up", 1.0, None),
        ("cued", 4.0, 0),
        ("uncued", 2.0, None),
        ("cool_down", 1.0, None),
    ]
    assert planned_ns(blocks, 160.0) == 8 * MINUTE
    slower = drill(blocks=(block("cued", 1.0), block("cool_down", 2.0, belt_speed_kmh=5.0)))
    assert [one.belt_speed_kmh for one in lay_out(slower, 10.1)] == [10.1, 5.0]


def test_blocks_of_steps_last_for_steps() -> None:
    by_steps = drill(blocks=(block("cued", steps=100), block("uncued", 1.0)))
    assert planned_ns(lay_out(by_steps, 10.1), 160.0) == round(1.625 * MINUTE)
    run = run_of(by_steps)
    assert run.advance(MINUTE, 99).block.remaining_steps == 1
    due = run.advance(MINUTE, 100)
    assert (due.block.number, due.block.remaining_s) == (2, 60.0)


def test_two_aims_take_turns_by_block() -> None:
    named = drill(
        *TWO.aims,
        blocks=(block("cued", 3.0, focus="landing"), block("cued", 3.0, focus="steps")),
    )
    assert [one[2] for one in kinds(lay_out(named, 10.1))] == [1, 0]
    unnamed = drill(*TWO.aims, blocks=(block("cued", 12.0), block("uncued", 1.0), block("cued", 5)))
    assert kinds(lay_out(unnamed, 10.1)) == [
        ("cued", 4.0, 0),
        ("cued", 4.0, 1),
        ("cued", 4.0, 0),
        ("uncued", 1.0, None),
        ("cued", 5.0, 1),
    ]


def test_a_plans_session_takes_the_place_of_the_main_part() -> None:
    plan = bundled_plan("eight_sessions")
    blocks = lay_out(drill(), 10.1, plan.sessions[5], 6)
    assert kinds(blocks) == [
        ("warm_up", 1.0, None),
        ("cued", 4.0, 0),
        ("uncued", 7.0, None),
        ("cued", 3.0, 0),
        ("uncued", 7.0, None),
        ("cued", 3.0, 0),
        ("uncued", 2.0, None),
        ("cool_down", 1.0, None),
    ]
    first = [lay_out(TWO, 10.1, plan.sessions[0], number)[1].aim for number in (1, 2, 3)]
    assert first == [0, 1, 0]  # sessions begin with one and the other in turn


def test_the_questions_of_the_main_part_are_asked_after_every_part() -> None:
    asking = bundled_drill("quick_steps")
    blocks = lay_out(asking, 10.1, PlanSession(parts_min=(2.0, 1.0)), 1)
    main = [one for one in blocks if one.kind in (BlockKind.CUED, BlockKind.UNCUED)]
    assert [one.ask for one in main] == [(Question.EFFORT, Question.AWKWARDNESS)] * 2


def test_checks_have_no_cues_and_one_begins_with_a_reminder() -> None:
    for kind in (SessionKind.RETENTION, SessionKind.REMINDER):
        blocks = lay_out(drill(), 10.1, PlanSession(parts_min=(0.0, 10.0), kind=kind), 1)
        assert [one.aim for one in blocks] == [None] * 3
        reminded = [one.kind for one in blocks if one.remind is not None]
        assert reminded == ([BlockKind.UNCUED] if kind is SessionKind.REMINDER else [])


def test_shortened_to_try_it_out() -> None:
    blocks = lay_out(drill(), 10.1, shorten=4.0)
    assert planned_ns(blocks, 160.0) == 2 * MINUTE


# run


def test_block_after_block_to_the_end() -> None:
    run = run_of(drill())
    dues = at(run, 0, 0.5, 1, 4.9, 5, 7, 7.99, 8)
    assert [due.block.number for due in dues] == [1, 1, 2, 2, 3, 4, 4, 4]
    assert [due.focus for due in dues] == [None, None, 0, 0, None, None, None, None]
    assert [due.over for due in dues] == [False] * 7 + [True]
    assert dues[1].block.remaining_s == 30.0
    assert dues[0].block.count == 4


def test_blocks_passed_over_at_one_look_are_all_counted() -> None:
    run = run_of(drill())
    (due,) = at(run, 7.5)
    assert (due.block.number, run.levels) == (4, {"steps": 1})  # four minutes with cues


def test_the_target_takes_its_steps_while_it_is_cued() -> None:
    run = run_of(drill())
    beats = [due.targets[0].beat_spm for due in at(run, 0.5, 1.0, 2.99, 3.01, 4.5, 5.5, 7.0)]
    assert beats == [164.0, 164.0, 164.0, 168.0, 168.0, 168.0, 168.0]
    assert run.levels == {"steps": 1}


def test_only_the_aim_that_is_cued_goes_on() -> None:
    two = drill(
        cadence_aim(),
        strike_aim(ramp_step_percent=7.5),
        blocks=(block("cued", 3.0, focus="landing"), block("cued", 3.0, focus="steps")),
    )
    run = run_of(two)
    at(run, 2.5)
    assert run.levels == {"steps": 0, "landing": 1}


def test_a_later_session_begins_where_the_last_one_ended() -> None:
    run = run_of(drill(), levels={"steps": 1})
    assert at(run, 0)[0].targets[0].beat_spm == 168.0
    assert run_of(drill(), levels={"steps": 99, "other": 1}).levels == {"steps": 1}


def test_pain_holds_the_target_where_it_is() -> None:
    for pain, held in ((2, False), (3, True)):
        run = run_of(drill())
        at(run, 1.5)
        run.on_answer(Question.PAIN, pain)
        run.on_answer(Question.EFFORT, 9)
        at(run, 4.9)
        assert run.levels == {"steps": 0 if held else 1}


def test_questions_when_a_block_ends_and_pain_every_few_minutes() -> None:
    asking = drill(
        blocks=(
            block("cued", 3.0, ask=(Question.EFFORT, Question.AWKWARDNESS)),
            block("uncued", 3.0),
        ),
        pain_every_min=2.0,
    )
    run = run_of(asking)
    asked = [(m / 10, due.question) for m in range(60) for due in at(run, m / 10) if due.question]
    assert asked == [
        (2.0, Question.PAIN),
        (3.0, Question.EFFORT),
        (3.1, Question.AWKWARDNESS),
        (4.0, Question.PAIN),
    ]


def test_the_belt_is_named_when_it_is_to_be_changed() -> None:
    slow = drill(blocks=(block("cued", 1.0), block("uncued", 1.0), block("cool_down", 1.0,
        belt_speed_kmh=5.0)))  # fmt: skip
    run = run_of(slow)
    told = [
        (due.block.belt_speed_kmh, due.block.belt_changes) for due in at(run, 0, 0.5, 1, 2, 2.5)
    ]
    assert told == [(10.1, True), (10.1, False), (10.1, False), (5.0, True), (5.0, False)]


def test_a_reminder_is_given_once_and_names_the_side_to_watch() -> None:
    session = PlanSession(parts_min=(0.0, 10.0), kind=SessionKind.REMINDER)
    for a_drill, number, expected in (
        (drill(), 1, (0, BandState.BELOW)),  # more steps: too few is what to watch
        (TWO, 2, (1, BandState.ABOVE)),  # the foot nearer: too far ahead is
    ):
        run = run_of(a_drill, session, number=number)
        reminders = [due.remind for due in at(run, 0, 0.5, 1.0, 1.1, 5.0)]
        assert reminders == [None, None, expected, None, None]


@settings(deadline=None, max_examples=60)
@given(
    minutes=st.lists(st.tuples(st.sampled_from(["cued", "uncued", "rest"]),
                               st.floats(0.1, 20.0)), min_size=1, max_size=6),
    looks=st.lists(st.floats(0.0, 2.0), max_size=60),
    ramp=st.floats(0.5, 5.0),
    pains=st.lists(st.integers(0, 10), max_size=3),
)  # fmt: skip
def test_whenever_one_looks_the_course_is_in_order(
    minutes: list[tuple[str, float]], looks: list[float], ramp: float, pains: list[int]
) -> None:
    a_drill = drill(*TWO.aims, blocks=tuple(block(k, m) for k, m in minutes), ramp_every_min=ramp)
    blocks = lay_out(a_drill, 10.1)
    found = goals(a_drill)
    run = DrillRun(blocks, found, a_drill, Limits())
    total = sum(m for _, m in minutes)
    now, number, levels = 0.0, 0, [0, 0]
    for look, step in enumerate(looks):
        now += step
        due = run.advance(round(now * MINUTE), 0)
        if look < len(pains):
            run.on_answer(Question.PAIN, pains[look])
        assert due.block.number >= number
        number = due.block.number
        assert due.over == (now >= total - 1e-6) or abs(now - total) < 1e-6
        if not due.over:
            assert (due.focus is not None) == (blocks[number - 1].kind is BlockKind.CUED)
        fresh = list(run.levels.values())
        assert all(a <= b for a, b in zip(levels, fresh, strict=True))  # never back
        levels = fresh
        for goal, target in zip(found, due.targets, strict=True):
            assert target in goal.targets


def test_a_drill_needs_blocks() -> None:
    with pytest.raises(ValueError, match="without blocks"):
        DrillRun((), goals(), drill(), NO_LIMITS)
