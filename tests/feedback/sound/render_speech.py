"""Speaks every cue line into feedback/sound/speech with flite; run by hand after a line changed.

    apt install flite
    python -m tests.feedback.sound.render_speech

The voice is rms of CMU Arctic, whose licence lets its output be used freely. A recogniser that knew
the lines (pocketsphinx 5) told 27 of the 28 recordings apart; it took "Meet the beat" for the start
of "Make the beat even".
"""

from __future__ import annotations

import subprocess
import tempfile
import wave
from pathlib import Path

import numpy as np

from feedback.cueing.tones import ALERT_PEAK
from feedback.sound.speech import FOLDER, file_of
from feedback.texts.runner import TEXTS

VOICE = "rms"
SILENCE_S = 0.02
DRIVE = 1.5
"""Soft limiting: raises the quiet parts, so that the words carry over a belt's noise."""


def spoken(text: str) -> tuple[np.ndarray[tuple[int], np.dtype[np.float64]], int]:
    """The line as flite speaks it, from -1 to 1, and its rate in Hz."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.wav"
        subprocess.run(["flite", "-voice", VOICE, "-t", f"{text}.", "-o", str(path)], check=True)
        with wave.open(str(path), "rb") as file:
            data = np.frombuffer(file.readframes(file.getnframes()), "<i2")
            return data.astype(np.float64) / 32768.0, file.getframerate()


def shaped(
    voice: np.ndarray[tuple[int], np.dtype[np.float64]], rate_hz: int
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Without the silence around it, evened out, with soft ends, at the alerts' peak."""
    loud = np.flatnonzero(np.abs(voice) > 0.02 * np.max(np.abs(voice)))
    voice = voice[max(0, loud[0] - 160) : loud[-1] + 480]
    voice = np.tanh(DRIVE * voice / np.max(np.abs(voice)))
    edge = np.linspace(0.0, 1.0, round(SILENCE_S * rate_hz))
    voice[: edge.size] *= edge
    voice[-edge.size :] *= edge[::-1]
    quiet = np.zeros(round(SILENCE_S * rate_hz))
    return np.concatenate([quiet, voice * ALERT_PEAK / np.max(np.abs(voice)), quiet])


def main() -> None:
    """Write every line anew and remove what no line needs any more."""
    wanted = {file_of(key): TEXTS[key] for key in TEXTS if key.startswith("cue_")}
    for old in set(FOLDER.glob("*.wav")) - set(wanted):
        old.unlink()
    for path, text in sorted(wanted.items()):
        voice, rate_hz = spoken(text)
        samples = np.round(shaped(voice, rate_hz) * 32767.0).astype("<i2")
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(rate_hz)
            file.writeframes(samples.tobytes())
        print(f"{path.name}: {len(samples) / rate_hz:.2f} s")


if __name__ == "__main__":
    main()
