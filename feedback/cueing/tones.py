"""What a tone is, and the shapes that cues are made of, as tables of pitch and level (pure).

What each sound says
    A cue outside the band is about 0.28 s of two pitches: rising asks for more of what is measured
    (the value is too low), falling for less. Its side is heard four times over: by rhythm (left one
    slur, middle two notes, right three), by timbre (left pure, right bright), by register (left
    lower, right higher) and by the stereo side, so that one loudspeaker is enough to tell. All are
    equally loud. Back inside the band is one short ringing tone. Warning is a trill, stop one long
    fall, fault one long low wavering tone: none of these shapes is used by a cue.

Not a medical alarm
    IEC 60601-1-8 alarms are bursts of separate pulses (5 + 5 for high, 3 for medium, 1 or 2 for
    low priority) with at least four harmonics within 15 dB (secondary summaries of its tables 3
    and 4). Every sound here is a single unbroken pulse of one or two partials: between the notes of
    a cue the level dips by 12 dB for a moment and comes back at once.
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
FULLY: Final = 0.785
"""15.4 dB louder on its side; further out it would be lost where one loudspeaker plays both."""
DIP: Final = 0.25
"""-12 dB, between two notes."""
DIP_S: Final = 0.025
"""Half of what a dip lasts."""
PITCH_LEVELS: Final = 4
_HALF_TONES: Final = 3


@dataclass(frozen=True, slots=True)
class _Place:
    """How a cue sounds that is for one side, or for neither."""

    ending: str
    """Of the key of its tone."""
    middle_hz: float
    pan: float
    peak: float
    turn_s: tuple[float, float]
    """When the pitch goes from the first note to the second."""
    dips_s: tuple[float, ...]
    """Where one note ends and the next begins."""
    second_partial: float


_PLACES: Final = {
    None: _Place("", CENTRE_HZ, 0.0, 0.212, (0.13, 0.15), (0.14,), 0.12),
    Side.LEFT: _Place("_left", LEFT_HZ, -FULLY, 0.303, (0.125, 0.166), (), 0.0),
    Side.RIGHT: _Place("_right", RIGHT_HZ, FULLY, 0.379, (0.14, 0.16), (0.07, 0.15), 0.5),
}
"""The peaks make all places equally loud by ITU-R BS.1770, on two loudspeakers or one: what comes
from one side alone has less power than what comes from both, and less still where both are one."""


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
    dips_s: tuple[float, ...] = ()
    """Where its level dips, so that it is heard as several notes: seconds from the start."""

    @property
    def length_s(self) -> float:
        """Seconds from the first to the last sample."""
        return self.pitch[-1][0]


def out_cue(what: str, side: Side | None, *, rising: bool) -> Tone:
    """An out-of-band cue: a fifth (3:2) up or down around the middle pitch of its side."""
    hz = _PLACES[side].middle_hz
    low, high = hz / math.sqrt(1.5), hz * math.sqrt(1.5)
    first, second = (low, high) if rising else (high, low)
    return _placed(what, side, first, second)


def _placed(what: str, side: Side | None, first_hz: float, second_hz: float) -> Tone:
    """Two pitches of 0.28 s together, shorter than one step at 180 steps/min, at their place."""
    place = _PLACES[side]
    until_s, from_s = place.turn_s
    return Tone(
        meaning=what,
        pitch=((0.0, first_hz), (until_s, first_hz), (from_s, second_hz), (0.28, second_hz)),
        rise_s=0.020,
        fall_s=0.060,
        peak=place.peak,
        pan=place.pan,
        second_partial=place.second_partial,
        dips_s=place.dips_s,
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
    first_hz = _PLACES[side].middle_hz
    where = "" if side is None else f" on the {side}"
    return _placed(
        f"Too {'low' if direction > 0 else 'high'}{where}, {level} of {PITCH_LEVELS}.",
        side,
        first_hz,
        first_hz * 2.0 ** (direction * level * _HALF_TONES / 12.0),
    )


def graded_tones() -> dict[str, Tone]:
    """Tones whose pitch follows the error, by ``pitch_{state}_{level}`` and the side, if any.

    The first note is the same throughout: where the value is. The second one lies over it when the
    value is too low and more is wanted, and under it when it is too high, by three half tones for
    each level, an octave at most.
    """
    return {
        f"pitch_{'low' if direction > 0 else 'high'}_{level}{_PLACES[side].ending}": _graded(
            side, direction, level
        )
        for side in _PLACES
        for direction in (-1, 1)
        for level in range(1, PITCH_LEVELS + 1)
    }
