"""What is next on a runner's way, and why, by the files alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.athlete_files.next_step import NextKind, NextStep
from feedback.screens.start.way import Stage, Standing, Way, way_of

FILE = Path("one.toml")
BASELINE = NextStep(NextKind.BASELINE)
TARGETS = NextStep(NextKind.PRESCRIBE)
FIRST = NextStep(NextKind.SESSION, FILE, "1 of 8")
THIRD = NextStep(NextKind.SESSION, FILE, "3 of 8")
AGAIN = NextStep(NextKind.REPEAT, FILE, "3 of 8", reasons=("hold_pain_over",))
FINISHED = NextStep(NextKind.FINISHED, FILE)


def way(step: NextStep, *, known: bool = True, checked: bool = True, sessions: int = 0) -> Way:
    return way_of(step, camera_known=known, camera_checked=checked, sessions=sessions)


@pytest.mark.parametrize(
    ("step", "known", "checked", "sessions", "now"),
    [
        (BASELINE, False, False, 0, Stage.CAMERA),
        (BASELINE, True, False, 0, Stage.CAMERA),
        (BASELINE, True, True, 0, Stage.BASELINE),
        (TARGETS, False, False, 0, Stage.TARGETS),  # no camera is needed for it
        (FIRST, True, True, 0, Stage.SESSION),
        (FIRST, True, False, 0, Stage.CAMERA),
        (THIRD, True, False, 2, Stage.SESSION),  # who has a plan gets one button
        (THIRD, False, False, 2, Stage.CAMERA),  # but not without any camera
        (AGAIN, True, False, 2, Stage.SESSION),
        (FINISHED, False, False, 8, Stage.REPORT),
    ],
)
def test_what_is_next(
    step: NextStep, known: bool, checked: bool, sessions: int, now: Stage
) -> None:
    found = way(step, known=known, checked=checked, sessions=sessions)
    assert found.now is now
    assert found.heading()
    assert found.why()


def test_what_was_done_can_be_gone_back_to_and_what_comes_later_cannot() -> None:
    found = way(TARGETS)
    standings = [found.standing(stage) for stage in Stage]
    done, now, later = Standing.DONE, Standing.NOW, Standing.LATER
    assert standings == [done, done, now, later, later]
    held = way(THIRD, sessions=2)
    assert [held.standing(stage) for stage in Stage] == [done, done, done, now, done]


def test_a_camera_that_is_gone_does_not_undo_what_was_done() -> None:
    found = way(THIRD, known=False, sessions=2)
    assert found.standing(Stage.CAMERA) is Standing.NOW
    assert found.standing(Stage.BASELINE) is Standing.DONE
    assert found.standing(Stage.TARGETS) is Standing.DONE


def test_why_a_session_is_next() -> None:
    assert "first session" in way(FIRST).why()
    assert "as planned" in way(THIRD, sessions=2).why()
    assert "does not go on" in way(AGAIN, sessions=2).why()
    assert way(THIRD, sessions=2).heading() == "Today: Session 3 of 8"
