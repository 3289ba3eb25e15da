"""Every sound of the cue table, rendered beforehand, of bounded level (pure).

Loudness
    Software cannot know how loud a loudspeaker or headphones play, so the limits are in dB below
    digital full scale (dBFS). Assumed for the worst case: a player and headphones at the limit
    of EN 50332-1, 100 dBA for its test noise, which lies at -10 dBFS RMS (from memory), with the
    computer's own volume control at its end. See :func:`worst_case_dba`. The volume of this
    program only turns down from there; it starts at about a third, where a session with a beat
    and cues comes to less than 77 dBA in the worst case. 80 dBA for 40 hours a week is the limit
    for adults (ITU-T H.870, 2022).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from feedback.cueing.cue_table import CUES
from feedback.cueing.tones import DIP, DIP_S, Tone

Samples = NDArray[np.float32]
_Wave = NDArray[np.float64]

CEILING: Final = 0.5
"""No sample that leaves the mixer is larger (-6 dBFS), whatever is sounding."""
DEFAULT_VOLUME: Final = 0.35
"""-9 dB: a cue then peaks at -19.6 dBFS and a beat at -27.2 dBFS."""
REFERENCE_DBA: Final = 100.0
REFERENCE_DBFS: Final = -10.0

SOUNDS: Final[dict[str, Tone]] = {
    key: tone for row in CUES.values() for key, tone in row.tones.items()
}
PITCHES: Final[dict[str, Tone]] = {
    key: tone for row in CUES.values() for key, tone in row.graded.items()
}
"""By the keys that :func:`feedback.cueing.cues.out_sound` gives."""


def _raised_cosine(length: int) -> _Wave:
    """From just above 0 to just under 1 in ``length`` samples, without a corner at either end."""
    wave: _Wave = 0.5 - 0.5 * np.cos(np.pi * (np.arange(length) + 0.5) / length)
    return wave


def render(tone: Tone, sample_rate_hz: int) -> Samples:
    """The samples of ``tone`` at volume 1, shape (n, 2): left, right.

    The largest sample of the louder side is ``tone.peak`` exactly.
    """
    count = round(tone.length_s * sample_rate_hz)
    at_s = np.arange(count) / sample_rate_hz
    corners_s, corners_hz = np.array(tone.pitch).T
    pitch_hz = np.exp(np.interp(at_s, corners_s, np.log(corners_hz)))
    phase = 2.0 * np.pi * np.cumsum(pitch_hz) / sample_rate_hz
    wave = np.sin(phase) + tone.second_partial * np.sin(2.0 * phase)
    if tone.decay_s is not None:
        wave *= np.exp(-at_s / tone.decay_s)
    for dip_s in tone.dips_s:
        away = np.clip(np.abs(at_s - dip_s) / DIP_S, 0.0, 1.0)
        wave *= 1.0 - (1.0 - DIP) * (0.5 + 0.5 * np.cos(np.pi * away))
    rise = _raised_cosine(round(tone.rise_s * sample_rate_hz))
    fall = _raised_cosine(round(tone.fall_s * sample_rate_hz))
    wave[: rise.size] *= rise
    wave[-fall.size :] *= fall[::-1]
    return panned(wave, tone.pan, tone.peak)


def panned(wave: _Wave, pan: float, peak: float | None = None) -> Samples:
    """The wave (n,) at its place between left and right, (n, 2).

    The largest sample of the louder side is ``peak``; left out: as in the wave.
    """
    peak = float(np.max(np.abs(wave))) if peak is None else peak
    # The two gains are the cosine and sine of one angle (the usual pan law).
    angle = (pan + 1.0) * np.pi / 4.0
    stereo = wave[:, None] * np.array([math.cos(angle), math.sin(angle)])
    if pan == 0.0:  # a cosine and a sine of 45 degrees differ in the last bit
        stereo[:, 1] = stereo[:, 0]
    stereo *= peak / np.max(np.abs(stereo))
    samples: Samples = stereo.astype(np.float32)
    return samples


def render_all(sample_rate_hz: int, tones: Mapping[str, Tone] = SOUNDS) -> dict[str, Samples]:
    """Every one of ``tones`` at volume 1, each (n, 2) float32."""
    return {name: render(tone, sample_rate_hz) for name, tone in tones.items()}


def worst_case_dba(rms: float) -> float:
    """Sound level in dBA at the ear for a signal of this RMS, under the module's assumption.

    The A-weighting of the sound itself is left out: it would take up to 7 dB off at 330 Hz and
    add at most 1.3 dB above 1 kHz (IEC 61672-1).
    """
    return REFERENCE_DBA + 20.0 * math.log10(rms) - REFERENCE_DBFS
