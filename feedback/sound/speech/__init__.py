"""Cue lines as speech, rendered beforehand; only the lines that a session needs are loaded.

The English recordings were made with the voice of the package hibari-tts 0.2.1 (Apache License 2.0,
as is the voice it was learnt from), those in German with the voice de-DE of SVOX Pico out of the
package ttspico 0.3.2 (Apache License 2.0), all shaped to carry over a belt's noise, and as loud as
the tones. How many of the English ones a recogniser of speech understands:
tests/feedback/sound/VOICES.md.
"""

from __future__ import annotations

import re
import wave
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import numpy as np

from feedback.cueing.tones import FULLY
from feedback.sound.tones import Samples, panned
from feedback.texts.runner import TEXTS
from shared.language import ENGLISH, language

PREFIX: Final = "say_"
FOLDER: Final = Path(__file__).parent
SIDE_GAIN: Final = 1.19
"""Makes up for half of the power that is lost where a line comes from one side alone."""
_SIDES: Final = {"_left": -FULLY, "_right": FULLY}


def recording(words: str, code: str = ENGLISH) -> Path:
    """Where the line with this key in feedback.texts.runner belongs, spoken in a language."""
    slug = re.sub(r"[^a-z]+", "_", TEXTS[words].lower()).strip("_")
    return (FOLDER if code == ENGLISH else FOLDER / code) / f"{slug}.wav"


def file_of(words: str) -> Path:
    """The line's recording in the language in use; in English where that does not speak it."""
    own = recording(words, language())
    return own if own.is_file() else recording(words)


def load_speech(sample_rate_hz: int, sounds: Iterable[str]) -> dict[str, Samples]:
    """The spoken lines of these keys (``say_`` and more; others are passed over).

    Each (n, 2) float32 at volume 1, to the side that the key ends with. Raises KeyError for a
    line that does not exist and OSError for one that was never recorded.
    """
    return {
        sound: _load(sound.removeprefix(PREFIX), sample_rate_hz)
        for sound in sounds
        if sound.startswith(PREFIX)
    }


def speech_length_s(words: str) -> float:
    """How long the line with this key lasts."""
    with wave.open(str(file_of(words)), "rb") as file:
        return file.getnframes() / file.getframerate()


def _load(words: str, sample_rate_hz: int) -> Samples:
    pan = 0.0
    for ending, place in _SIDES.items():
        if words.endswith(ending) and words not in TEXTS:
            words, pan = words.removesuffix(ending), place
    with wave.open(str(file_of(words)), "rb") as file:
        rate_hz = file.getframerate()
        data = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(np.float64)
    wave_out = _resampled(data / 32768.0, rate_hz, sample_rate_hz)
    peak = float(np.max(np.abs(wave_out)))
    return panned(wave_out, pan, peak * SIDE_GAIN if pan else peak)


def _resampled(
    wave_in: np.ndarray[tuple[int], np.dtype[np.float64]], from_hz: int, to_hz: int
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The same sound at another rate, by its spectrum; a recording begins and ends in silence."""
    count = round(len(wave_in) * to_hz / from_hz)
    spectrum = np.fft.rfft(wave_in)
    out: np.ndarray[tuple[int], np.dtype[np.float64]] = np.fft.irfft(spectrum, count)
    return out * (count / len(wave_in))
