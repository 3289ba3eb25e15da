"""The speaker's shell without a device: what it refuses, and the silent stand-in."""

from __future__ import annotations

import pytest

from feedback.sound.speaker import SilentSpeaker, Speaker
from shared.problems import describe
from shared.records import Cue, CueKind, Played


def cue(sound: str) -> Cue:
    return Cue(
        kind=CueKind.OUT_OF_BAND,
        measure="cadence",
        side=None,
        sound=sound,
        words="",
        step_number=12,
        captured_ns=1_000,
        decided_ns=2_000,
    )


def test_the_silent_speaker_tells_what_would_have_sounded_until_the_stop() -> None:
    silent = SilentSpeaker()
    silent.set_beat(170.0)
    silent.heartbeat(5)
    silent.play(cue("out_low"))
    silent.play(cue(""))
    would = Played(kind=CueKind.OUT_OF_BAND, captured_ns=1_000, decided_ns=2_000, sounded_ns=2_000)
    assert silent.drain_played() == [would]
    assert silent.drain_played() == []
    silent.stop(announce=True)
    silent.play(cue("out_low"))
    assert silent.drain_played() == []
    assert silent.problem() is None
    silent.close()


def test_the_silent_speaker_keeps_the_reason() -> None:
    problem = describe("sound_missing")
    assert SilentSpeaker(problem).problem() is problem


@pytest.mark.parametrize("volume", [-0.01, 1.2, float("nan")])
def test_a_volume_outside_its_range_is_refused(volume: float) -> None:
    with pytest.raises(ValueError, match="volume"):
        Speaker(volume)


def test_a_speaker_that_was_not_opened() -> None:
    speaker = Speaker()
    assert speaker.problem() is None
    with pytest.raises(RuntimeError, match="opened"):
        speaker.play(cue("out_low"))
    speaker.close()
