"""A raised hand and a fall end a whole station that plays a rendered clip as if live."""

from __future__ import annotations

from pathlib import Path

import pytest

from feedback.journal.entries import StateEntry
from feedback.journal.writer import Header, Journal, read_journal
from feedback.sound.speaker import SilentSpeaker
from feedback.station.setup import StationSetup
from feedback.station.station import Station
from live.camera.sources import FileSource
from live.pose.model import PoseModel
from shared.clock import anchor_now
from shared.flow import View
from shared.messages import SessionState, StopReason
from tests.feedback.making import athlete, strike_target
from tests.feedback.safety.test_clips import CLIPS

pytestmark = pytest.mark.model


@pytest.mark.parametrize(
    ("clip", "reason", "from_s"),
    [("side_18", StopReason.HAND, 5.0), ("side_17", StopReason.FALL, 12.0)],
)
def test_what_the_runner_does_ends_the_station(
    tmp_path: Path, clip: str, reason: StopReason, from_s: float
) -> None:
    runner = athlete(strike_target())
    station = Station(
        StationSetup(
            athlete=runner,
            view=View.SIDE,
            source=FileSource(CLIPS / f"{clip}.mp4", as_live=True),
            model=PoseModel(),
            speaker=SilentSpeaker(),
            spawn_screen=None,
            start_at_once=True,
        )
    )
    header = Header(
        versions={},
        anchor=anchor_now(),
        source=clip,
        view=View.SIDE,
        athlete=runner,
        athlete_text="",
        limits={},
    )
    path = tmp_path / "session.jsonl"
    try:
        outcome = station.run(Journal(path, header))
    finally:
        station.close()
    assert outcome.reason is reason
    assert outcome.saved
    record = read_journal(path)
    assert record.summary is not None
    assert from_s < record.summary.elapsed_s < from_s + 4.0
    last = [entry for entry in record.entries if isinstance(entry, StateEntry)][-1]
    assert (last.state, last.source) == (SessionState.STOPPED, "seen by the camera")
