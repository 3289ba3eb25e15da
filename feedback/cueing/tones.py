"""What a tone is, and the shapes that cues are made of, as tables of pitch and level (pure).

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
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from shared.flow import Side

_BEAT_PEAK: Final = 0.125
CUE_PEAK: Final = 0.3
ALERT_PEAK: Final = 0.355
CENTRE_HZ: Final = 587.0
LEFT_HZ: Final = 494.0
RIGHT_HZ: Final = 698.0
SLIGHTLY: Final = 0.5
FULLY: Final = 0.9
PITCH_LEVELS: Final = 4
_HALF_TONES: Final = 3
_PLACES: Final = {
    None: ("", CENTRE_HZ, 0.0),
    Side.LEFT: ("_left", LEFT_HZ, -FULLY),
    Side.RIGHT: ("_right", RIGHT_HZ, FULLY),
}


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

    @property
    def length_s(self) -> float:
        """Seconds from the first to the last sample."""
        return self.pitch[-1][0]


def two_notes(first_hz: float, second_hz: float) -> tuple[tuple[float, float], ...]:
    """Two joined notes of about 0.14 s, shorter together than one step at 180 steps/min."""
    return ((0.0, first_hz), (0.13, first_hz), (0.15, second_hz), (0.28, second_hz))


def two_note_cue(what: str, middle_hz: float, pan: float, *, rising: bool) -> Tone:
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
    )


def beat(what: str, hz: float, pan: float) -> Tone:
    """A dry tick of 45 ms at ``hz``; ``pan`` as in :class:`Tone`."""
    return Tone(
        meaning=what,
        pitch=((0.0, hz), (0.045, hz)),
        rise_s=0.004,
        fall_s=0.020,
        peak=_BEAT_PEAK,
        pan=pan,
        decay_s=0.012,
    )


def alternating(
    low_hz: float, high_hz: float, turns: int, turn_s: float
) -> tuple[tuple[float, float], ...]:
    """Pitch that goes to and fro in straight lines, ``turns`` half-turns of ``turn_s`` each."""
    return tuple((turn * turn_s, high_hz if turn % 2 else low_hz) for turn in range(turns + 1))


def _graded(side: Side | None, direction: int, level: int) -> Tone:
    _, first_hz, pan = _PLACES[side]
    where = "" if side is None else f" on the {side}"
    return Tone(
        meaning=f"Too {'high' if direction > 0 else 'low'}{where}, {level} of {PITCH_LEVELS}.",
        pitch=two_notes(first_hz, first_hz * 2.0 ** (direction * level * _HALF_TONES / 12.0)),
        rise_s=0.020,
        fall_s=0.060,
        peak=CUE_PEAK,
        pan=pan,
        second_partial=0.12,
    )


def graded_tones() -> dict[str, Tone]:
    """Tones whose pitch follows the error, by ``pitch_{direction}_{level}`` and the side, if any.

    The first note is the same throughout: what is aimed at. The second one lies under it when the
    value is too low and over it when it is too high, by three half tones for each level, an octave
    at most.
    """
    return {
        f"pitch_{'high' if direction > 0 else 'low'}_{level}{_PLACES[side][0]}": _graded(
            side, direction, level
        )
        for side in _PLACES
        for direction in (-1, 1)
        for level in range(1, PITCH_LEVELS + 1)
    }
