"""Spoken lines: every line has its recording, at the right length, place and level."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from feedback.cueing.cue_table import CUES
from feedback.cueing.cues import speech_of, spoken
from feedback.sound import speech
from feedback.sound.mixer import Mixer
from feedback.sound.speech import FOLDER, file_of, load_speech, recording, speech_length_s
from feedback.sound.tones import CEILING, DEFAULT_VOLUME, render_all, worst_case_dba
from feedback.texts import languages
from feedback.texts.runner import TEXTS
from shared.flow import CueKind, Side
from shared.language import ENGLISH
from shared.targets import CueStyle
from tests.feedback.making import cadence_target, strike_target
from tests.feedback.sound.loudness import momentary_lufs
from tests.feedback.sound.player import BLOCK, RATE_HZ, cue

LINES = sorted(key for key in TEXTS if key.startswith("cue_"))
SAY = (CueStyle.SPOKEN,)


@pytest.fixture(params=languages.known())
def spoken_in(request: pytest.FixtureRequest) -> Iterator[str]:
    code = str(request.param)
    languages.speak(code)
    yield code
    languages.speak(ENGLISH)


@pytest.mark.parametrize("line", LINES)
def test_every_cue_line_is_recorded(line: str, spoken_in: str) -> None:
    assert file_of(line) == recording(line, spoken_in)
    assert 0.5 < speech_length_s(line) < 1.6
    (samples,) = load_speech(48_000, [spoken(line, None)]).values()
    assert len(samples) == pytest.approx(48_000 * speech_length_s(line), abs=1)
    assert np.array_equal(samples[:, 0], samples[:, 1])
    assert 0.2 < np.max(np.abs(samples)) < CEILING
    assert np.max(np.abs(samples[[0, -1]])) < 0.01  # no click at either end


def test_no_recording_is_left_over(spoken_in: str) -> None:
    wanted = {recording(line, spoken_in) for line in LINES}
    assert set(next(iter(wanted)).parent.glob("*.wav")) == wanted
    folders = {path.name for path in FOLDER.iterdir() if list(path.glob("*.wav"))}
    assert folders == set(languages.known()) - {ENGLISH}


def test_a_language_without_recordings_speaks_english(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(speech, "language", lambda: "xx")
    assert file_of("cue_beat") == recording("cue_beat")


def test_the_side_is_heard_as_the_side() -> None:
    sounds = load_speech(16_000, [spoken("cue_strike_ahead_above", side) for side in Side])
    left, right = (sounds[spoken("cue_strike_ahead_above", side)] for side in Side)
    assert np.abs(left[:, 0]).max() > 5 * np.abs(left[:, 1]).max()
    assert np.abs(right[:, 1]).max() > 5 * np.abs(right[:, 0]).max()


@pytest.mark.parametrize("rate_hz", [8_000, 44_100, 48_000])
def test_another_rate_changes_neither_pitch_nor_level(rate_hz: int) -> None:
    (samples,) = load_speech(rate_hz, ["say_cue_beat"]).values()
    (own,) = load_speech(16_000, ["say_cue_beat"]).values()
    low = slice(0, 2_000)  # under 2 kHz all rates agree
    there, here = (np.abs(np.fft.rfft(s[:, 0].astype(np.float64))) / len(s) for s in (samples, own))
    assert there[low] == pytest.approx(here[low], abs=2e-4)


def test_speech_is_no_louder_than_the_loudest_sound(spoken_in: str) -> None:
    loudest = max(np.sqrt(np.mean(s.astype(np.float64) ** 2)) for s in render_all(48_000).values())
    for samples in load_speech(48_000, [spoken(line, None) for line in LINES]).values():
        rms = float(np.sqrt(np.mean(samples.astype(np.float64) ** 2)))
        assert rms <= loudest
        assert worst_case_dba(rms * DEFAULT_VOLUME) < 90.0


@pytest.mark.parametrize("side", [None, *Side])
def test_lines_are_as_loud_as_the_tones_of_the_same_side(side: Side | None, spoken_in: str) -> None:
    """Within 2 LU, by the loudest 400 ms of each (ITU-R BS.1770)."""
    tones = render_all(48_000)
    tone = momentary_lufs(tones["out_low" if side is None else f"out_low_{side}"])
    for line, samples in load_speech(48_000, [spoken(line, side) for line in LINES]).items():
        assert momentary_lufs(samples) == pytest.approx(tone, abs=2.0), line


def test_only_what_the_targets_can_call_for_is_loaded() -> None:
    assert speech_of([strike_target()]) == frozenset()
    assert speech_of([strike_target(cues=SAY, side=Side.LEFT)]) == {
        "say_cue_strike_ahead_above_left",
        "say_cue_strike_ahead_below_left",
    }
    assert speech_of([cadence_target(cues=SAY, beat_spm=None)]) == {
        "say_cue_cadence_above",
        "say_cue_cadence_below",
        "say_cue_beat",
    }
    assert speech_of([strike_target()], reminders=True)
    assert load_speech(48_000, ["out_low", "stop"]) == {}


def test_speech_gives_way_to_warnings_and_to_the_stop() -> None:
    for kind in (CueKind.OUT_OF_BAND, CueKind.REMINDER):
        assert CUES[kind].rank < CUES[CueKind.WARNING].rank < CUES[CueKind.STOP].rank


def test_the_mixer_plays_a_spoken_line_whole() -> None:
    say = "say_cue_strike_ahead_above"
    (line,) = load_speech(RATE_HZ, [say]).values()
    mixer = Mixer(render_all(RATE_HZ) | {say: line}, RATE_HZ, 1.0, BLOCK)
    mixer.play(cue(say, 0))
    blocks = []
    for _ in range(len(line) // BLOCK + 2):
        out = np.zeros((BLOCK, 2), np.float32)
        mixer.fill(out, 0, 0)
        blocks.append(out)
    heard = np.concatenate(blocks)
    assert np.allclose(heard[: len(line)], line)
    assert not heard[len(line) :].any()
