"""Pitch that follows the error: wider the further out, rising for low, soft and bounded."""

from __future__ import annotations

import numpy as np
import pytest

from feedback.cueing.cues import out_sound, pitch_level
from feedback.cueing.tones import PITCH_LEVELS
from feedback.sound.tones import CEILING, PITCHES, render_all
from shared.flow import BandState, Side
from shared.targets import CueStyle
from tests.feedback.making import cadence_target, judgement, strike_target

RATE_HZ = 48_000
RENDERED = render_all(RATE_HZ, PITCHES)
PITCH = (CueStyle.PITCH,)


def heard_hz(name: str, part: slice) -> float:
    wave = RENDERED[name].astype(np.float64).sum(axis=1)[part]
    spectrum = np.abs(np.fft.rfft(wave * np.hanning(len(wave)), 1 << 16))
    return float(np.argmax(spectrum) * RATE_HZ / (1 << 16))


def test_there_is_one_for_each_level_direction_and_side() -> None:
    assert len(PITCHES) == PITCH_LEVELS * 2 * 3
    assert set(RENDERED) == set(PITCHES)


@pytest.mark.parametrize("side", ["", "_left", "_right"])
def test_the_interval_widens_with_the_level(side: str) -> None:
    first, second = slice(1_200, 6_000), slice(8_000, 12_400)
    aimed = heard_hz(f"pitch_low_1{side}", first)
    for direction, sign in (("low", 1), ("high", -1)):
        intervals = []
        for level in range(1, PITCH_LEVELS + 1):
            name = f"pitch_{direction}_{level}{side}"
            assert heard_hz(name, first) == pytest.approx(aimed, rel=0.01)
            intervals.append(12 * np.log2(heard_hz(name, second) / aimed))
        assert intervals == pytest.approx([sign * 3.0 * n for n in range(1, 5)], abs=0.2)


@pytest.mark.parametrize("name", PITCHES)
def test_each_is_short_soft_and_bounded(name: str) -> None:
    samples = RENDERED[name]
    assert PITCHES[name].length_s < 60.0 / 200.0  # shorter than a step
    assert np.max(np.abs(samples)) == pytest.approx(PITCHES[name].peak, rel=1e-6)
    assert PITCHES[name].peak < CEILING
    assert np.max(np.abs(samples[[0, -1]])) < 0.01


def test_the_level_follows_the_error() -> None:
    target = cadence_target(cues=PITCH)  # 163 to 173: half the band is 5
    errors = [-0.1, -2.4, -2.6, -5.1, -7.6, -30.0]
    levels = [
        pitch_level(judgement(0, BandState.BELOW, measure="cadence", error=error), target)
        for error in errors
    ]
    assert levels == [1, 1, 2, 3, 4, 4]
    open_band = strike_target(cues=PITCH, high=12.0, hysteresis=0.5)
    assert pitch_level(judgement(0, BandState.ABOVE, error=1.5), open_band) == 2
    assert pitch_level(judgement(0, BandState.ABOVE, error=1.5), strike_target(high=0.0)) == 1


def test_direction_and_side_choose_the_sound() -> None:
    target = strike_target(cues=PITCH)
    high = judgement(0, BandState.ABOVE, error=9.0, side=Side.RIGHT)
    assert out_sound(high, target, "cue_strike_ahead_above", True) == "pitch_high_4_right"
    low = judgement(0, BandState.BELOW, error=-0.1)
    assert out_sound(low, target, "", False) == "pitch_low_1"


def test_words_come_first_and_the_tone_after() -> None:
    say = "cue_strike_ahead_above"
    high = judgement(0, BandState.ABOVE, error=1.0)
    both = strike_target(cues=(CueStyle.SPOKEN, CueStyle.OUT_OF_BAND))
    assert out_sound(high, both, say, True) == f"say_{say}"
    assert out_sound(high, both, say, False) == "out_high"
    words_only = strike_target(cues=(CueStyle.SPOKEN,))
    assert out_sound(high, words_only, say, False) == f"say_{say}"
    assert out_sound(high, strike_target(cues=(CueStyle.WORDS,)), say, True) == ""
