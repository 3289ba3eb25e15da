"""Which sounds can be tried, by where they are heard (pure)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from shared.language import _


class Heard(StrEnum):
    """Where a sound is heard."""

    LEFT = "left"
    MIDDLE = "middle"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class SoundRow:
    """One cue, with its sound for each place that it has one for."""

    meaning: str
    sounds: Mapping[Heard, str]
    """Keys, as ``beltside sounds --only`` takes them."""


SPOKEN: Final = "say_cue_cadence_below"
"""The line that is spoken to try."""


def sound_rows(meanings: Mapping[str, str]) -> tuple[SoundRow, ...]:
    """Sounds by key with their meaning, put together by what they are the left and right of."""
    rows: dict[str, dict[Heard, str]] = {}
    for key in meanings:
        stem, heard = _place_of(key)
        rows.setdefault(stem, {})[heard] = key
    made = []
    for sounds in rows.values():
        # The one in the middle says it without a side.
        key = sounds.get(Heard.MIDDLE) or next(iter(sounds.values()))
        meaning = meanings[key]
        if Heard.MIDDLE not in sounds:
            meaning = _("Beat, a step each")
        made.append(SoundRow(meaning, sounds))
    return tuple(made)


def place_title(heard: Heard) -> str:
    """Where it is heard, as a button says it."""
    match heard:
        case Heard.LEFT:
            return _("On the left")
        case Heard.MIDDLE:
            return _("In the middle")
        case Heard.RIGHT:
            return _("On the right")


def _place_of(key: str) -> tuple[str, Heard]:
    for heard in (Heard.LEFT, Heard.RIGHT):
        if key.endswith(f"_{heard}"):
            return key.removesuffix(f"_{heard}"), heard
    return key, Heard.MIDDLE
