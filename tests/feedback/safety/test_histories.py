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
    assert all(tally.stops[reason.value] >= 20 for reason in StopReason), tally.stops
