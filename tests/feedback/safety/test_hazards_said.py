"""Each hazard's warning is heard and seen."""

from __future__ import annotations

import pytest

from feedback.cueing.cue_table import CUES
from feedback.sound.tones import SOUNDS, render_all
from feedback.texts.runner import words
from shared.flow import CueKind
from shared.messages import StopReason
from shared.problems import describe
from tests.feedback.sound.loudness import momentary_lufs

RENDERED = render_all(48_000)
SHOWN = {
    # what says it: lines of the runner's screen, by hazard
    "drifts off the belt's rear edge": ("warn_belt_edge", "warn_belt_edge_text"),
    "runs on in pain": ("warn_pain",),
    "the belt goes on after a stop": ("stopped_title", "stopped_belt"),
    "stop has not arrived yet": ("stopping_title", "stopping_text"),
}
SILENT = ("camera_moved", "edges_off", "scale_doubt", "sound_lost", "worker_failed")
"""Problems in which no cue is given, or none can be; what is seen says so."""
ALERTS = (CueKind.WARNING, CueKind.STOP, CueKind.FAULT)


@pytest.mark.parametrize("hazard", SHOWN)
def test_a_hazards_line_is_seen(hazard: str) -> None:
    for key in SHOWN[hazard]:
        assert len(words(key)) > 3


@pytest.mark.parametrize("reason", StopReason)
def test_the_reason_of_every_stop_is_seen(reason: StopReason) -> None:
    assert len(words(f"reason_{reason.value}")) > 3


@pytest.mark.parametrize("code", SILENT)
def test_why_there_is_no_cue_is_seen(code: str) -> None:
    problem = describe(code, why="-", part="-")
    assert all(len(text) > 3 for text in (problem.title, problem.meaning, problem.action))


@pytest.mark.parametrize("kind", ALERTS)
def test_every_alert_is_heard_and_louder_than_any_cue(kind: CueKind) -> None:
    """An alert is a tone, the same in every language: no words have to be understood."""
    sound = CUES[kind].sound
    assert sound in SOUNDS
    assert not CUES[kind].spoken
    loudest_cue = max(momentary_lufs(s) for name, s in RENDERED.items() if name[:3] == "out")
    assert momentary_lufs(RENDERED[sound]) > loudest_cue + 3.0
