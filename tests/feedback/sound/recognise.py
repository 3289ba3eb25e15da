"""Lets an open recogniser of speech hear every recorded line, and keeps what it understood.

    pip install moonshine-voice==0.0.62
    python -m tests.feedback.sound.recognise

The recogniser is Moonshine Tiny for English (MIT License; this version of the package carries its
model). It knows no line beforehand and writes down whatever it hears.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import re
import wave
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from feedback.sound.speech import file_of
from feedback.texts.runner import TEXTS

KEPT: Final = Path(__file__).parent / "understood.json"
RATE_HZ: Final = 16_000
AROUND_S: Final = 0.5
LINES: Final = {file_of(key).name: TEXTS[key] for key in sorted(TEXTS) if key.startswith("cue_")}
Wave = NDArray[np.float64]


def belt_noise(count: int, seed: int) -> Wave:
    """What a treadmill sounds like, drawn: air and belt (pink), motor hum, feet at 168 a minute.

    Of power 1. The shares are our choice, no source.
    """
    rng = np.random.default_rng(seed)
    at_s = np.arange(count) / RATE_HZ
    hz = np.fft.rfftfreq(count, 1.0 / RATE_HZ)
    pink = np.fft.irfft(
        np.fft.rfft(rng.standard_normal(count)) * (hz >= 40.0) / np.sqrt(np.maximum(hz, 60.0)),
        count,
    )
    hum = sum(
        np.sin(2.0 * np.pi * 100.0 * k * at_s + rng.uniform(0.0, 6.0)) / k for k in range(1, 5)
    )
    length = round(0.12 * RATE_HZ)
    thud = rng.standard_normal(length) * np.exp(-np.arange(length) / (0.025 * RATE_HZ))
    feet = np.zeros(count + length)
    for begin_s in np.arange(rng.uniform(0.0, 0.35), count / RATE_HZ, 60.0 / 168.0):
        begin = round(begin_s * RATE_HZ)
        feet[begin : begin + length] += thud
    low = np.fft.rfft(feet[:count])
    low[hz > 800.0] *= 0.2
    feet = np.fft.irfft(low, count)
    mixed: Wave = pink / pink.std() + 0.5 * hum / np.std(hum) + feet / (feet.std() + 1e-9)
    level: Wave = mixed / mixed.std()
    return level


def heard_by_it(path: Path, *, in_noise: bool, seed: int) -> Wave:
    """The recording in half a second of nothing, or in noise of the same power (0 dB)."""
    with wave.open(str(path), "rb") as file:
        voice = np.frombuffer(file.readframes(file.getnframes()), "<i2").astype(np.float64)
    voice /= np.sqrt(np.mean(voice**2))
    around = np.zeros(round(AROUND_S * RATE_HZ))
    out: Wave = np.concatenate([around, voice, around])
    if in_noise:
        out = out + belt_noise(len(out), seed)
    return out * 0.08


def recogniser() -> Any:
    """The recogniser, ready. Raises ImportError without its package."""
    package = importlib.import_module("moonshine_voice")
    model = Path(str(package.__file__)).parent / "assets" / "tiny-en"
    return package.Transcriber(str(model), package.ModelArch.TINY)


def written_down(by: Any, sound: Wave) -> str:
    """What the recogniser makes of it."""
    result = by.transcribe_without_streaming(sound.astype(np.float32).tolist(), RATE_HZ)
    return " ".join(line.text for line in result.lines).strip()


def letters(text: str) -> str:
    """Lower-case letters alone."""
    return re.sub(r"[^a-z]", "", text.lower())


def meant(heard: str) -> str | None:
    """The one line that is nearest to what was written down, by letters; None if none is near.

    So does a runner, who knows the few lines there are: "Grotaul" can only be "Grow tall".
    """
    off = sorted((_apart(letters(heard), letters(line)), line) for line in set(LINES.values()))
    return off[0][1] if off[0][0] < min(off[1][0], 0.55) else None


def _apart(one: str, other: str) -> float:
    """Letters to change, put in or take out, against the longer of the two."""
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        before, row = row, [i]
        for j, b in enumerate(other, 1):
            row.append(min(before[j] + 1, row[-1] + 1, before[j - 1] + (a != b)))
    return row[-1] / max(len(one), len(other), 1)


def digest(path: Path) -> str:
    """By which a recording is known again."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    """Hear all lines, print what was understood, and keep it."""
    by = recogniser()
    kept = {}
    for seed, (name, line) in enumerate(LINES.items()):
        path = file_of(next(key for key in TEXTS if TEXTS[key] == line))
        quiet, noise = (
            written_down(by, heard_by_it(path, in_noise=in_noise, seed=seed))
            for in_noise in (False, True)
        )
        kept[name] = {"sha256": digest(path), "seed": seed, "quiet": quiet, "noise": noise}
        print(f"{line:22} {quiet:26} {noise}", flush=True)
    for how in ("quiet", "noise"):
        exact = sum(letters(str(k[how])) == letters(LINES[n]) for n, k in kept.items())
        right = sum(meant(str(k[how])) == LINES[n] for n, k in kept.items())
        print(f"{how}: {right} of {len(kept)} understood, {exact} letter for letter")
    KEPT.write_text(json.dumps(kept, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
