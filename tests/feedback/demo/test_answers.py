"""The demo's runner answers: the program's own cue comes before each change of the movement.

Both parts are measured once, side by side, and all that is asked here is asked of that.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

from feedback.demo import ANSWERED_S, PARTS, answering_clip, demo_clip
from feedback.journal.entries import ProblemEntry
from feedback.records.demo_report import demo_report
from feedback.records.page.html import as_html
from feedback.records.page.page import TextLines
from live.camera.sources import FileSource
from shared.flow import BandState, CueKind, View
from tests.feedback.demo.driven import Told, drive

ANSWERS_S = {View.SIDE: (12.0, 28.0), View.BEHIND: (12.0,)}
"""When the movement in the clip changes for the better: see tests/rendered/answering.py."""
DRIFTS_S = 22.0
"""When the runner of the first part falls back."""
UNTIL_S = {View.SIDE: 30.6, View.BEHIND: 19.3}
MOST_BYTES = 3_000_000
pytestmark = pytest.mark.model


@pytest.fixture(scope="module")
def parts() -> dict[View, Told]:
    with ThreadPoolExecutor(len(PARTS)) as pool:
        return dict(zip(PARTS, pool.map(drive, PARTS, map(UNTIL_S.get, PARTS)), strict=True))


@pytest.mark.parametrize("view", PARTS)
def test_the_cue_comes_before_each_answer_and_the_value_into_the_band_after_it(
    parts: dict[View, Told], view: View
) -> None:
    told = parts[view]
    out = BandState.BELOW if view is View.SIDE else BandState.ABOVE
    cues, praise = told.cues(CueKind.OUT_OF_BAND), told.cues(CueKind.BACK_IN_BAND)
    begins_s = 0.0
    for number, answer_s in enumerate(ANSWERS_S[view]):
        before = [at_s for at_s in cues if begins_s <= at_s < answer_s - 1.0]
        assert before
        assert told.states(before[0], answer_s) == {out}
        assert answer_s < praise[number] < answer_s + 8.0
        begins_s = DRIFTS_S
    assert len(praise) == len(ANSWERS_S[view])


def test_the_runner_of_the_first_part_is_caught_in_falling_back(parts: dict[View, Told]) -> None:
    told = parts[View.SIDE]
    assert told.states(17.0, DRIFTS_S) == {BandState.INSIDE}
    first = next(at_s for at_s in told.cues(CueKind.OUT_OF_BAND) if at_s > DRIFTS_S)
    assert first < DRIFTS_S + 4.0
    assert BandState.INSIDE not in told.states(first, ANSWERS_S[View.SIDE][1])


@pytest.mark.parametrize("view", PARTS)
def test_nothing_is_in_doubt_throughout(parts: dict[View, Told], view: View) -> None:
    said = [e.problem.code for _, e in parts[view].entries if isinstance(e, ProblemEntry)]
    assert said == []


def test_the_report_tells_both_parts_in_their_order(parts: dict[View, Told]) -> None:
    page = demo_report([parts[view].recording for view in PARTS])
    told = {part.heading: part.lines for part in page.parts if isinstance(part, TextLines)}
    side, behind = told["Part 1: from the side"], told["Part 2: from behind"]
    kinds = [line.split(" min: ", 1)[1].split(":")[0] for line in side]
    below, cue = "Cadence below target", "cue, off target"
    inside, praise = "Cadence on target", "cue, back on target"
    assert list(dict.fromkeys(kinds)) == [below, cue, inside, praise]
    assert kinds.count(below) == kinds.count(inside) == kinds.count(praise) == 2
    assert behind[-1].endswith("cue, back on target: On target")
    assert "right on target" in behind[-2]
    assert not any("from the side" in line for line in behind)
    written = as_html(page)
    assert "it says nothing about a real person" in written
    assert written.count("<figure>") >= 2
    assert "<table>" not in written


def test_each_clip_is_as_long_as_its_part() -> None:
    for view in PARTS:
        source = FileSource(answering_clip(view), as_live=False)
        source.open()
        fps = source.nominal_fps
        source.close()
        assert fps is not None
        assert source.frame_count == round(ANSWERED_S[view] * fps)


def test_the_clips_are_small() -> None:
    folder = demo_clip(View.SIDE).parent
    assert sum(path.stat().st_size for path in folder.glob("*.mp4")) < MOST_BYTES
