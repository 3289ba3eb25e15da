"""Every sound of Beltside, rendered beforehand from a table, of bounded level (pure).

What each sound says
    A cue outside the band is two notes joined without a gap: falling when the value is too low,
    rising when it is too high. Its side is heard twice over, by the stereo side and by the
    register (left lower, right higher), so that one loudspeaker is enough to tell. Back inside
    the band is one short ringing tone. Warning is a trill, stop one long fall, fault one long
    low wavering tone: none of these shapes is used by a cue.

Not a medical alarm
    IEC 60601-1-8 alarms are bursts of separate pulses (5 + 5 for high, 3 for medium, 1 or 2 for
    low priority) with at least four harmonics within 15 dB (secondary summaries of its tables 3
    and 4). Every sound here is a single unbroken pulse of one or two partials.

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
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]
_Wave = NDArray[np.float64]

CEILING: Final = 0.5
"""No sample that leaves the mixer is larger (-6 dBFS), whatever is sounding."""
DEFAULT_VOLUME: Final = 0.35
"""-9 dB: a cue then peaks at -19.6 dBFS and a beat at -27.2 dBFS."""
REFERENCE_DBA: Final = 100.0
REFERENCE_DBFS: Final = -10.0

_BEAT_PEAK: Final = 0.125
CUE_PEAK: Final = 0.3
ALERT_PEAK: Final = 0.355
CENTRE_HZ: Final = 587.0
LEFT_HZ: Final = 494.0
RIGHT_HZ: Final = 698.0
_SLIGHTLY: Final = 0.5
FULLY: Final = 0.9
CUE_RANK: Final = 2


@dataclass(frozen=True, slots=True)
class Tone:
    """One sound: a pitch path with a soft start and end, at one place between left and right."""

    meaning: str
    """For people: what it says."""
    pitch: tuple[tuple[float, float], ...]
    """Corners of the pitch path: (seconds from the start, Hz); straight in log pitch between."""
    rise_s: float
    fall_s: float
    peak: float
    """Largest sample at volume 1, 0 to 1 of full scale."""
    pan: float = 0.0
    """-1 left only, 0 both alike, +1 right only."""
    second_partial: float = 0.0
    """Level of the octave above against the fundamental, 0 to 1."""
    decay_s: float | None = None
    """Time constant of a dying tone; None for an even one."""
    rank: int = 1
    """A cue cuts off another of its own rank or lower, never a higher one."""

    @property
    def length_s(self) -> float:
        """Seconds from the first to the last sample."""
        return self.pitch[-1][0]


def two_notes(first_hz: float, second_hz: float) -> tuple[tuple[float, float], ...]:
    """Two joined notes of about 0.14 s, shorter together than one step at 180 steps/min."""
    return ((0.0, first_hz), (0.13, first_hz), (0.15, second_hz), (0.28, second_hz))


def _cue(what: str, middle_hz: float, pan: float, *, rising: bool) -> Tone:
    """An out-of-band cue: a fifth (3:2) up or down around ``middle_hz``."""
    low, high = middle_hz / math.sqrt(1.5), middle_hz * math.sqrt(1.5)
    return Tone(
        meaning=what,
        pitch=two_notes(low, high) if rising else two_notes(high, low),
        rise_s=0.020,
        fall_s=0.060,
        peak=CUE_PEAK,
        pan=pan,
        second_partial=0.12,
        rank=CUE_RANK,
    )


def _beat(what: str, hz: float, pan: float) -> Tone:
    return Tone(
        meaning=what,
        pitch=((0.0, hz), (0.045, hz)),
        rise_s=0.004,
        fall_s=0.020,
        peak=_BEAT_PEAK,
        pan=pan,
        decay_s=0.012,
    )


def _alternating(
    low_hz: float, high_hz: float, turns: int, turn_s: float
) -> tuple[tuple[float, float], ...]:
    """Pitch that goes to and fro in straight lines, ``turns`` half-turns of ``turn_s`` each."""
    return tuple((turn * turn_s, high_hz if turn % 2 else low_hz) for turn in range(turns + 1))


SOUNDS: Final[dict[str, Tone]] = {
    "beat_left": _beat("Beat for a left step.", 880.0, -_SLIGHTLY),
    "beat_right": _beat("Beat for a right step.", 1047.0, _SLIGHTLY),
    "out_low": _cue("Too low: bring it up.", CENTRE_HZ, 0.0, rising=False),
    "out_low_left": _cue("Left side too low.", LEFT_HZ, -FULLY, rising=False),
    "out_low_right": _cue("Right side too low.", RIGHT_HZ, FULLY, rising=False),
    "out_high": _cue("Too high: bring it down.", CENTRE_HZ, 0.0, rising=True),
    "out_high_left": _cue("Left side too high.", LEFT_HZ, -FULLY, rising=True),
    "out_high_right": _cue("Right side too high.", RIGHT_HZ, FULLY, rising=True),
    "back": Tone(
        meaning="Back inside the band.",
        pitch=((0.0, 1319.0), (0.24, 1319.0)),
        rise_s=0.008,
        fall_s=0.060,
        peak=CUE_PEAK * 0.7,
        decay_s=0.070,
    ),
    "warning": Tone(
        meaning="Warning: look at the screen.",
        pitch=_alternating(740.0, 988.0, turns=12, turn_s=0.05),
        rise_s=0.025,
        fall_s=0.050,
        peak=ALERT_PEAK,
        second_partial=0.25,
        rank=3,
    ),
    "stop": Tone(
        meaning="The session has been stopped.",
        pitch=((0.0, 784.0), (0.15, 784.0), (0.75, 262.0), (1.1, 262.0)),
        rise_s=0.030,
        fall_s=0.200,
        peak=ALERT_PEAK,
        second_partial=0.35,
        rank=4,
    ),
    "fault": Tone(
        meaning="The program has fallen silent because of a fault.",
        pitch=_alternating(330.0, 392.0, turns=10, turn_s=0.14),
        rise_s=0.060,
        fall_s=0.150,
        peak=ALERT_PEAK,
        second_partial=0.5,
        rank=4,
    ),
}


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
    stereo *= peak / np.max(np.abs(stereo))
    samples: Samples = stereo.astype(np.float32)
    return samples


def render_all(sample_rate_hz: int) -> dict[str, Samples]:
    """Every sound of :data:`SOUNDS` at volume 1, each (n, 2) float32."""
    return {name: render(tone, sample_rate_hz) for name, tone in SOUNDS.items()}


def worst_case_dba(rms: float) -> float:
    """Sound level in dBA at the ear for a signal of this RMS, under the module's assumption.

    The A-weighting of the sound itself is left out: it would take up to 7 dB off at 330 Hz and
    add at most 1.3 dB above 1 kHz (IEC 61672-1).
    """
    return REFERENCE_DBA + 20.0 * math.log10(rms) - REFERENCE_DBFS
