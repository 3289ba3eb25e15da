"""Cues whose pitch follows the error: the further out of the band, the wider the interval (pure).

The first note is the same throughout: what is aimed at. The second one lies under it when the value
is too low and over it when it is too high, by three half tones for each level, an octave at most.
"""

from __future__ import annotations

from typing import Final

from feedback.cueing.cues import PITCH_LEVELS
from feedback.sound.tones import (
    CENTRE_HZ,
    CUE_PEAK,
    CUE_RANK,
    FULLY,
    LEFT_HZ,
    RIGHT_HZ,
    SOUNDS,
    Samples,
    Tone,
    render,
    two_notes,
)
from shared.flow import Side

_HALF_TONES: Final = 3
_PLACES: Final = {
    None: ("", CENTRE_HZ, 0.0),
    Side.LEFT: ("_left", LEFT_HZ, -FULLY),
    Side.RIGHT: ("_right", RIGHT_HZ, FULLY),
}


def _tone(side: Side | None, direction: int, level: int) -> Tone:
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
        rank=CUE_RANK,
    )


PITCHES: Final[dict[str, Tone]] = {
    f"pitch_{'high' if direction > 0 else 'low'}_{level}{_PLACES[side][0]}": _tone(
        side, direction, level
    )
    for side in _PLACES
    for direction in (-1, 1)
    for level in range(1, PITCH_LEVELS + 1)
}
"""By the keys that :func:`feedback.cueing.cues.out_sound` gives."""


def render_pitches(sample_rate_hz: int) -> dict[str, Samples]:
    """Every sound of :data:`PITCHES` at volume 1, each (n, 2) float32."""
    return {name: render(tone, sample_rate_hz) for name, tone in PITCHES.items()}


def rank_of(sound: str) -> int:
    """Which of two sounds wins: the higher rank. Raises KeyError for an unknown sound."""
    if sound.startswith("say_"):
        return CUE_RANK
    return (SOUNDS.get(sound) or PITCHES[sound]).rank
