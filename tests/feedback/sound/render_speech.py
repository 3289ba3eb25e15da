"""Speaks every cue line into feedback/sound/speech; run by hand after a line changed.

    pip install hibari-tts==0.2.1 moonshine-voice==0.0.62 ttspico==0.3.2
    python -m tests.feedback.sound.render_speech
    python -m tests.feedback.sound.recognise

The English voice is hibari's own (Apache License 2.0, its model comes with the package; learnt from
a voice of Kokoro-82M, Apache License 2.0 too), the German one de-DE of SVOX Pico (Apache License
2.0, in the package). How they were chosen: tests/feedback/sound/VOICES.md.
"""

from __future__ import annotations

import importlib
import wave
from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from feedback.sound.speech import recording
from feedback.sound.tones import panned
from feedback.texts import languages
from feedback.texts.runner import TEXTS, words
from shared.language import ENGLISH
from tests.feedback.sound.loudness import RATE_HZ as LOUDNESS_RATE_HZ
from tests.feedback.sound.loudness import momentary_lufs

Wave = NDArray[np.float64]
Speak = Callable[[str], Wave]

SPEED = 0.85
SEED = 1
VOICE_RATE_HZ = 24_000
RATE_HZ = 16_000
SILENCE_S = 0.02
LOUDNESS_LUFS = -15.6
"""Near the tones of cues (-17.2 in the middle, -16.3 on a side)."""
LARGEST = 0.41
DRIVE = 1.5


def carried_over_noise(voice: Wave, rate_hz: int) -> Wave:
    """The same words, made to carry over a belt's noise without being louder.

    Less under 250 Hz and up to 8 dB more above 1.7 kHz, where consonants are and the noise is weak,
    and quiet parts raised towards loud ones (as in Zorila, Kandia and Stylianou 2012; from memory).
    """
    spectrum = np.fft.rfft(voice)
    hz = np.maximum(np.fft.rfftfreq(len(voice), 1.0 / rate_hz), 1.0)
    high = np.clip(np.log2(hz / 700.0) / 1.3, 0.0, 1.0)
    shaped = np.fft.irfft(
        spectrum * (1.0 + (10.0 ** (8.0 / 20.0) - 1.0) * high) / np.sqrt(1.0 + (250.0 / hz) ** 4),
        len(voice),
    )
    window = np.hanning(round(0.03 * rate_hz))
    level = np.sqrt(np.convolve(shaped**2, window / window.sum(), "same"))
    gain = np.maximum(level / level.max(), 0.01) ** -0.5
    evened: Wave = shaped * np.minimum(gain, 10.0 ** (15.0 / 20.0))
    limited: Wave = np.tanh(DRIVE * evened / np.max(np.abs(evened)))
    return limited


def finished(voice: Wave, rate_hz: int) -> Wave:
    """Without the silence around it, with soft ends, at its loudness."""
    loud = np.flatnonzero(np.abs(voice) > 0.02 * np.max(np.abs(voice)))
    voice = voice[max(0, loud[0] - rate_hz // 100) : loud[-1] + rate_hz // 40].copy()
    edge = np.linspace(0.0, 1.0, round(SILENCE_S * rate_hz))
    voice[: edge.size] *= edge
    voice[-edge.size :] *= edge[::-1]
    quiet = np.zeros(round(SILENCE_S * rate_hz))
    voice = np.concatenate([quiet, voice, quiet])
    for _ in range(8):  # rounding off the peaks takes some loudness, which is then put back
        fine = signal.resample_poly(voice, LOUDNESS_RATE_HZ // rate_hz, 1)
        voice *= 10.0 ** ((LOUDNESS_LUFS - momentary_lufs(panned(fine, 0.0))) / 20.0)
        over = np.abs(voice) > 0.7 * LARGEST
        room = 0.3 * LARGEST
        voice[over] = np.sign(voice[over]) * (
            0.7 * LARGEST + room * np.tanh((np.abs(voice[over]) - 0.7 * LARGEST) / room)
        )
    return voice


def english() -> Speak:
    """Lines at RATE_HZ, by hibari."""
    say = importlib.import_module("hibari").Hibari()

    def speak(text: str) -> Wave:
        spoken = np.asarray(say(f"{text}.", speed=SPEED, seed=SEED), dtype=np.float64)
        voice: Wave = signal.resample_poly(spoken, RATE_HZ, VOICE_RATE_HZ)
        return voice

    return speak


def german() -> Speak:
    """Lines at RATE_HZ, by SVOX Pico, which speaks at that rate itself."""
    say = importlib.import_module("ttspico").TtsEngine("de-DE")

    def speak(text: str) -> Wave:
        return np.frombuffer(say.speak(f"{text}."), "<i2") / 32768.0

    return speak


VOICES: Final[dict[str, Callable[[], Speak]]] = {ENGLISH: english, "de": german}


def main() -> None:
    """Write every line anew and remove what no line needs any more."""
    for code, voice in VOICES.items():
        languages.speak(code)
        render(code, voice())


def render(code: str, speak: Speak) -> None:
    """All lines in one language, which is in use."""
    wanted = {recording(key, code): words(key) for key in TEXTS if key.startswith("cue_")}
    folder = next(iter(wanted)).parent
    folder.mkdir(exist_ok=True)
    for old in set(folder.glob("*.wav")) - set(wanted):
        old.unlink()
    for path, text in sorted(wanted.items()):
        voice = speak(text)
        samples = np.round(finished(carried_over_noise(voice, RATE_HZ), RATE_HZ) * 32767.0)
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(RATE_HZ)
            file.writeframes(samples.astype("<i2").tobytes())
        peak = np.abs(samples).max() / 32767
        print(f"{code} {path.name}: {len(samples) / RATE_HZ:.2f} s, peak {peak:.2f}")


if __name__ == "__main__":
    main()
