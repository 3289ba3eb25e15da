"""The answering demo: the program's own cue comes before each change of the runner's movement."""

from __future__ import annotations

import pytest

from feedback.demo import answering_clip, demo_clip, demo_profile
from feedback.journal.entries import CueEntry, Entry, JudgementEntry, ProblemEntry
from feedback.session.interface import Facts, Start
from feedback.session.session import Session
from live.camera.sources import FileSource
from live.pipeline import Pipeline, Setup
from live.pose.model import PoseModel
from live.scene.body_state import BodyState
from shared.flow import BandState, CueKind, View
from shared.units import NS_PER_MS, NS_PER_S

ANSWER_S = {View.SIDE: 12.0, View.BEHIND: 12.0}
"""When the movement in the clip changes: see tests/rendered/answering.py."""
UNTIL_S = {View.SIDE: 20.0, View.BEHIND: 20.0}
MOST_BYTES = 3_000_000
pytestmark = pytest.mark.model


@pytest.fixture(scope="module", params=[View.SIDE, View.BEHIND])
def told(request: pytest.FixtureRequest) -> tuple[View, list[tuple[float, Entry]]]:
    """What a session in the clip's own time puts into its journal, with the clip's time in s."""
    view: View = request.param
    athlete = demo_profile(view).athlete
    session = Session(athlete, view, demo=True)
    session.on_tick(0, Facts(frames_per_s=30.0, sound_on=True))
    session.on_command(Start(), 0)
    height_m, speed_mps = athlete.height_cm / 100, athlete.belt_speed_mps
    pipeline = Pipeline(Setup(view=view, height_m=height_m, belt_speed_mps=speed_mps))
    lookout = BodyState(view)
    source = FileSource(answering_clip(view), as_live=False)
    entries: list[tuple[float, Entry]] = []
    source.open()
    with PoseModel() as model:
        while (frame := source.read()) is not None:
            if frame.captured_ns > UNTIL_S[view] * NS_PER_S:
                break
            now_ns = frame.captured_ns + 20 * NS_PER_MS
            pose = model.detect(frame)
            session.on_body(lookout.see(frame, pose), now_ns)
            outputs = session.on_update(pipeline.update(pose), now_ns)
            pipeline.settle()
            lookout.settle()
            entries += [(frame.captured_ns / NS_PER_S, entry) for entry in outputs.journal]
    source.close()
    return view, entries


def test_the_cue_comes_before_the_answer_and_the_value_into_the_band_after_it(
    told: tuple[View, list[tuple[float, Entry]]],
) -> None:
    view, entries = told
    aim = demo_profile(view).athlete.targets[0]
    cues = [at for at, e in entries if isinstance(e, CueEntry)
            and e.cue.kind is CueKind.OUT_OF_BAND and e.cue.measure == aim.measure]  # fmt: skip
    judged = [(at, e.judgement) for at, e in entries
              if isinstance(e, JudgementEntry) and e.judgement.measure == aim.measure]  # fmt: skip
    assert cues
    assert cues[0] < ANSWER_S[view] - 1.0
    before = [j.state for at, j in judged if cues[0] <= at < ANSWER_S[view]]
    assert set(before) == {BandState.BELOW if view is View.SIDE else BandState.ABOVE}
    after = [j.state for at, j in judged if at > ANSWER_S[view] + 6.0]
    assert after
    assert set(after) == {BandState.INSIDE}


def test_nothing_is_in_doubt_throughout(told: tuple[View, list[tuple[float, Entry]]]) -> None:
    assert [e.problem.code for _, e in told[1] if isinstance(e, ProblemEntry)] == []


def test_the_clips_are_small() -> None:
    folder = demo_clip(View.SIDE).parent
    assert sum(path.stat().st_size for path in folder.glob("*.mp4")) < MOST_BYTES
