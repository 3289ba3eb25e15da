"""What the panel asked for finds its answer, and its log takes each line once."""

from __future__ import annotations

import msgspec

from feedback.screens.clinician.log import LineKind, PanelLog
from feedback.screens.clinician.requests import NO_ANSWER_NS, Asking, MessageTone
from feedback.texts.clinician import say
from shared.changes import Adjust, Answered, Note
from tests.feedback.screens.panel_examples import CHANGE, REMARK, STRIKE, cue, running

# what was asked


def test_answers_find_their_place_and_tell_from_when_it_holds() -> None:
    asking = Asking()
    first = asking.ask("target 0", lambda at: Adjust(id=at, number=0, revision=1, aim=176), 0)
    second = asking.ask("notes", lambda at: Note(id=at, text="x"), 0)
    assert isinstance(first, Adjust)
    assert isinstance(second, Note)
    assert first.id != second.id
    assert asking.waits("target 0")
    message = asking.message("target 0")
    assert message is not None
    assert message.tone is MessageTone.WAITING
    assert asking.on_answer(Answered(id=first.id, done=True, from_step=1_101)) == "target 0"
    message = asking.message("target 0")
    assert message is not None
    assert message.text == "Applies from step 1101"
    assert not asking.waits("target 0")
    assert asking.waits("notes")
    assert asking.on_answer(Answered(id=second.id, done=True)) == "notes"
    assert asking.on_answer(Answered(id=first.id, done=True)) == "", "each answer once"


def test_a_refusal_comes_with_the_value_that_holds() -> None:
    asking = Asking()
    asked = asking.ask("target 1", lambda at: Adjust(id=at, number=1, revision=1, aim=11), 0)
    assert isinstance(asked, Adjust)
    why = "Somebody else changed it meanwhile."
    asking.on_answer(Answered(id=asked.id, done=False, why=why, target=STRIKE))
    message = asking.message("target 1")
    assert message is not None
    assert message.text == f"Not done: {why} The target is up to 12.0 cm now."
    assert message.tone is MessageTone.BAD


def test_no_answer_is_told_and_nothing_waits_for_ever() -> None:
    asking = Asking()
    asking.ask("notes", lambda at: Note(id=at, text="x"), 0)
    asking.on_tick(NO_ANSWER_NS)
    assert asking.waits("notes")
    asking.on_tick(NO_ANSWER_NS + 1)
    assert not asking.waits("notes")
    message = asking.message("notes")
    assert message is not None
    assert message.text == say("no_answer")


# the log


def test_the_log_takes_each_line_once_newest_first() -> None:
    log = PanelLog()
    assert log.add(running())
    assert not log.add(running())
    assert log.add(running(cues=(cue(3), cue(1)), number=4_010))
    kinds = [line.kind for line in log.lines]
    assert kinds == [LineKind.CUE] * 4 + [LineKind.REMARK, LineKind.CHANGE]
    times = [line.at_ns for line in log.lines]
    assert times == sorted(times, reverse=True)


def test_lines_of_the_log_tell_time_who_and_what() -> None:
    log = PanelLog()
    log.add(running(cues=(cue(3),), changes=(CHANGE,), remarks=(REMARK,)))
    assert [line.text for line in log.lines] == [
        "6:32  Off target: Cadence",
        "6:15  the panel: Shoulders drop when reminded",
        "6:01  Consulting room 2: Cadence to 171 to 179 steps/min",
    ]
    assert [line.details or line.text for line in log.lines] == [
        "6:32  Off target: Cadence, step 1092, 21 ms",
        "6:15  the panel: Shoulders drop when reminded",
        "6:01  Consulting room 2: Cadence to 171 to 179 steps/min, from step 1006",
    ]


def test_the_drills_own_changes_are_the_drills() -> None:
    log = PanelLog()
    log.add(running(cues=(), remarks=(), changes=(msgspec.structs.replace(CHANGE, who=""),)))
    assert "the drill:" in log.lines[0].text
