"""What is typed at a console without a screen, and what it says."""

from __future__ import annotations

import pytest

from feedback.cli.typed_commands import (
    StopNow,
    Typed,
    Wrong,
    answer_line,
    link_line,
    state_lines,
    understood,
)
from feedback.link.client_state import LinkState, LinkStatus
from shared.changes import Adjust, Answered, MoveBlock, Note, TargetState, Undo
from shared.flow import BandState
from shared.messages import Pause, Rating, SessionState, StopReason
from shared.targets import BlockKind, Question
from tests.feedback.link.examples import block, snapshot

TARGET = TargetState(
    number=0,
    revision=4,
    measure="cadence",
    side=None,
    unit="steps/min",
    low=170.0,
    high=176.0,
    beat_spm=None,
    aim=173.0,
    aim_least=165.0,
    aim_most=179.0,
    by_hand=True,
    can_undo=True,
    in_focus=True,
    value=171.4,
    state=BandState.INSIDE,
)
NOW = snapshot(targets=(TARGET,), block=block(BlockKind.CUED.value), step_number=120)


@pytest.mark.parametrize(
    ("text", "asked"),
    [
        ("stop", StopNow()),
        (" stop ", StopNow()),
        ("pause", Pause()),
        ("aim 1 175", Adjust(id=9, number=0, revision=4, aim=175.0)),
        ("aim 1 175,5", Adjust(id=9, number=0, revision=4, aim=175.5)),
        ("aim 1 -2.5", Adjust(id=9, number=0, revision=4, aim=-2.5)),
        ("undo 1", Undo(id=9, number=0, revision=4)),
        ("block 4", MoveBlock(id=9, now=3, to=4)),
        ("note  shoe lace", Note(id=9, text="shoe lace")),
        ("pain 3", Rating(what=Question.PAIN, value=3)),
    ],
)
def test_words_become_requests(text: str, asked: Typed) -> None:
    assert understood(text, NOW, 9) == asked


@pytest.mark.parametrize(
    "text",
    ["", "stopp", "aim", "aim 2 175", "aim 1 x", "undo 0", "block 8", "pain 11", "note", "go on"],
)
def test_anything_else_asks_for_nothing(text: str) -> None:
    assert isinstance(understood(text, NOW, 9), Wrong)


@pytest.mark.parametrize("text", ["aim 1 175", "undo 1", "block 2"])
def test_nothing_is_changed_that_is_not_seen(text: str) -> None:
    assert isinstance(understood(text, None, 9), Wrong)
    assert understood("stop", None, 9) == StopNow()


def test_the_state_tells_each_target_with_its_range() -> None:
    lines = state_lines(NOW)
    assert lines[0] == "Heron: running, 1:05, block 3 of 7, step 120"
    assert "171 steps/min" in lines[1]
    assert "aim 173, may be 165 to 179" in lines[1]
    stopped = snapshot(state=SessionState.STOPPED, stop_reason=StopReason.CONSOLE)
    assert "stopped, 1:05 (console)" in state_lines(stopped)[0]


def status(**changes: object) -> LinkStatus:
    fields: dict[str, object] = {
        "state": LinkState.JOINED,
        "why": "",
        "snapshot": None,
        "heard_ns": 0,
        "stop_asked": False,
    }
    return LinkStatus(**(fields | changes))  # type: ignore[arg-type]


def test_a_lost_link_is_told_with_its_time_and_a_stop_that_waits_too() -> None:
    assert link_line(status(), 0) == ""
    lost = status(state=LinkState.LOST, why="It broke.", lost_ns=0, stop_waits=True)
    line = link_line(lost, 7_500_000_000)
    assert line.startswith("CONNECTION LOST for 7 s (It broke).")
    assert "STOP HAS NOT REACHED THE STATION" in line
    refused = status(state=LinkState.REFUSED, why="Not known.", lost_ns=0)
    assert link_line(refused, 1) == "NOT LINKED. Not known."


def test_answers_say_from_which_step_a_change_holds() -> None:
    done = answer_line(Answered(id=1, done=True, target=TARGET, from_step=121))
    assert done.startswith("Done. It applies from step 121. 1  Cadence")
    assert answer_line(Answered(id=1, done=False, why="Not now.")) == "Not done: Not now."
