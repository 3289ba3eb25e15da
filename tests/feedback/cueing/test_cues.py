"""The cue planner: silence means right, one gap for all cues, direction and side in the sound."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.cueing.cue_table import CUES
from feedback.cueing.cues import CuePlanner, beats
from feedback.sound.tones import SOUNDS
from feedback.texts.runner import TEXTS
from shared.catalogue import CATALOGUE
from shared.flow import BandState, Cue, CueKind, Side
from shared.targets import CueStyle, Target
from tests.feedback.making import cadence_target, judgement, strike_target

INSIDE, ABOVE, BELOW = BandState.INSIDE, BandState.ABOVE, BandState.BELOW


def cued(planner: CuePlanner, states: dict[int, BandState]) -> list[tuple[int, str]]:
    found = [planner.on_judgement(judgement(step, state), 0) for step, state in states.items()]
    return [(cue.step_number, cue.sound) for cue in found if cue is not None]


def test_silence_means_right() -> None:
    assert cued(CuePlanner(strike_target()), dict.fromkeys(range(50), INSIDE)) == []


def test_out_is_told_at_once_and_again_after_the_gap() -> None:
    found = cued(CuePlanner(strike_target()), dict.fromkeys(range(20), ABOVE))
    assert found == [(0, "out_high"), (8, "out_high"), (16, "out_high")]


def test_back_is_told_once() -> None:
    path = {0: ABOVE, **dict.fromkeys(range(8, 40), INSIDE)}
    assert cued(CuePlanner(strike_target()), path) == [(0, "out_high"), (8, "back")]


def test_back_within_the_gap_is_told_when_the_gap_is_over() -> None:
    path = {0: ABOVE, **dict.fromkeys(range(3, 20), INSIDE)}
    assert cued(CuePlanner(strike_target()), path) == [(0, "out_high"), (8, "back")]


def test_back_and_out_again_within_the_gap_is_not_told_as_back() -> None:
    path = {0: ABOVE, 3: INSIDE, 5: ABOVE, 8: ABOVE, 9: INSIDE}
    assert cued(CuePlanner(strike_target()), path) == [(0, "out_high"), (8, "out_high")]


def test_an_excursion_that_was_not_told_gets_no_back() -> None:
    path = {0: ABOVE, 8: INSIDE, 10: ABOVE, 14: INSIDE, 30: INSIDE}
    assert cued(CuePlanner(strike_target()), path) == [(0, "out_high"), (8, "back")]


def test_unknown_ends_the_answer_to_an_earlier_cue() -> None:
    path = {0: ABOVE, 9: BandState.UNKNOWN, 10: INSIDE}
    assert cued(CuePlanner(strike_target()), path) == [(0, "out_high")]


def test_the_gap_outlives_a_reset() -> None:
    planner = CuePlanner(strike_target())
    assert cued(planner, {0: ABOVE}) == [(0, "out_high")]
    planner.reset()
    assert cued(planner, {1: ABOVE, 7: ABOVE, 8: ABOVE}) == [(8, "out_high")]


def test_steps_counted_anew_do_not_silence_for_good() -> None:
    planner = CuePlanner(strike_target())
    assert cued(planner, {1000: ABOVE}) == [(1000, "out_high")]
    assert cued(planner, dict.fromkeys(range(9), ABOVE)) == [(8, "out_high")]


@pytest.mark.parametrize("side", [None, *Side])
@pytest.mark.parametrize(("state", "direction"), [(BELOW, "low"), (ABOVE, "high")])
def test_direction_and_side_choose_the_sound(
    side: Side | None, state: BandState, direction: str
) -> None:
    cue = CuePlanner(strike_target(low=2.0, side=side)).on_judgement(
        judgement(5, state, side=side), 77
    )
    assert cue is not None
    assert cue.sound == f"out_{direction}" + ("" if side is None else f"_{side}")
    assert cue.sound in SOUNDS
    assert cue.words == f"cue_strike_ahead_{state}"
    assert (cue.kind, cue.side, cue.decided_ns) == (CueKind.OUT_OF_BAND, side, 77)
    assert cue.captured_ns == judgement(5, state).captured_ns


def styled(*styles: CueStyle) -> list[Cue | None]:
    planner = CuePlanner(strike_target(cues=styles))
    return [planner.on_judgement(judgement(step, state), 0) for step, state in
            {0: ABOVE, 8: INSIDE}.items()]  # fmt: skip


def test_only_the_chosen_ways_of_cueing_are_used() -> None:
    out, back = styled(CueStyle.OUT_OF_BAND)
    assert out is not None
    assert (out.sound, out.words, back) == ("out_high", "", None)
    out, back = styled(CueStyle.BACK_IN_BAND)
    assert back is not None
    assert (out, back.sound, back.words) == (None, "back", "")
    out, back = styled(CueStyle.WORDS)
    assert out is not None
    assert back is not None
    assert (out.sound, out.words) == ("", "cue_strike_ahead_above")
    assert (back.sound, back.words) == ("", "line_inside")
    assert styled() == [None, None]
    assert styled(CueStyle.BEAT) == [None, None]


def test_a_beat_needs_a_tempo_and_the_wish_for_it() -> None:
    assert beats(cadence_target())
    assert not beats(cadence_target(beat_spm=None))
    assert not beats(cadence_target(cues=(CueStyle.WORDS,)))


def test_words_point_at_the_beat_where_there_is_one() -> None:
    cue = CuePlanner(cadence_target()).on_judgement(judgement(0, BELOW, measure="cadence"), 0)
    assert cue is not None
    assert cue.words == CUES[CueKind.BEAT].line == "cue_beat"


def test_every_sound_and_every_line_of_the_table_exists() -> None:
    assert set(CUES) == set(CueKind)
    for kind, row in CUES.items():
        assert row.kind is kind
        assert row.lines.items() <= TEXTS.items()
        assert bool(row.sound) == bool(row.tones)
        assert all(key == row.sound or key.startswith(f"{row.sound}_") for key in row.tones)
    for keys in ("tones", "graded", "lines"):
        held = [key for row in CUES.values() for key in getattr(row, keys)]
        assert len(held) == len(set(held))


def test_every_measure_that_can_be_held_to_a_band_has_lines_to_show() -> None:
    for spec in CATALOGUE.values():
        if spec.not_offered:
            continue
        for state in (BELOW, ABOVE):
            target = Target(measure=spec.name, unit=spec.units[0], low=1.0, high=2.0)
            verdict = judgement(0, state, measure=spec.name)
            cue = CuePlanner(target).on_judgement(verdict, 0)
            assert cue is not None
            assert TEXTS[cue.words]


@given(
    st.lists(st.tuples(st.integers(0, 5), st.sampled_from(BandState)), max_size=120),
    st.integers(4, 40),
    st.sets(st.sampled_from(CueStyle)),
)
def test_whatever_happens_the_gap_is_held_and_back_answers_out(
    history: list[tuple[int, BandState]], gap: int, styles: set[CueStyle]
) -> None:
    target = strike_target(cue_gap_steps=gap, cues=tuple(styles), low=2.0)
    planner = CuePlanner(target)
    step, last, out_before = 0, None, False
    for ahead, state in history:
        step += ahead
        cue = planner.on_judgement(judgement(step, state), 0)
        if cue is None:
            continue
        assert last is None or step - last >= gap
        last = step
        if cue.kind is CueKind.BACK_IN_BAND:
            assert state is INSIDE
            both = {CueStyle.OUT_OF_BAND, CueStyle.WORDS} & styles
            assert out_before or not both
            out_before = False
        else:
            assert state in (ABOVE, BELOW)
            out_before = True


def test_words_do_not_point_at_a_beat_that_cannot_be_heard() -> None:
    planner = CuePlanner(cadence_target())
    verdict = judgement(0, BELOW, measure="cadence")
    cue = planner.on_judgement(verdict, 0, beat_heard=False)
    assert cue is not None
    assert cue.words == "cue_cadence_below"
