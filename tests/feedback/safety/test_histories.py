"""Ten thousand random sequences: no wrong cue, no lost stop, nothing that was not caught."""

from __future__ import annotations

from shared.messages import StopReason
from tests.feedback.safety.histories import run

SEQUENCES = 10_000


def test_no_wrong_cue_no_lost_stop_no_uncaught_exception() -> None:
    tally = run(SEQUENCES, seed=20_251)
    # The rules were put to the test: all of it came up, and often.
    assert tally.cues > SEQUENCES / 2
    assert tally.beats > SEQUENCES / 2
    assert tally.held > SEQUENCES
    assert tally.warnings > SEQUENCES / 20
    assert tally.unstopped > SEQUENCES / 10
    assert tally.changed > SEQUENCES / 20
    assert tally.refused > SEQUENCES / 2
    assert all(tally.stops[reason.value] >= 20 for reason in StopReason), tally.stops


def test_the_same_with_a_drill() -> None:
    """Blocks, ramp, questions and reminder: a cue only of what its block cues."""
    tally = run(SEQUENCES // 2, seed=20_252, course="drill")
    assert tally.cues > SEQUENCES / 8
    assert tally.beats > SEQUENCES / 8
    assert tally.held > SEQUENCES / 2
    assert tally.reminders > SEQUENCES / 100
    assert tally.asked > SEQUENCES / 4
    assert tally.plans_ended > SEQUENCES / 40
    assert all(tally.stops[reason.value] >= 10 for reason in StopReason), tally.stops


def test_the_same_with_a_baseline() -> None:
    """Never a cue or a beat, and every limit holds."""
    tally = run(SEQUENCES // 5, seed=20_253, course="baseline")
    assert (tally.cues, tally.beats) == (0, 0)
    assert tally.held > SEQUENCES / 5
    assert tally.plans_ended > SEQUENCES / 100
    assert tally.stops[StopReason.FALL.value] > SEQUENCES / 1000
