"""What is set for one athlete: targets with their bands and cues, as read from a profile."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import msgspec
from msgspec import Meta

from shared.records import Side, View


class CueStyle(StrEnum):
    """Ways to cue a target; several may be chosen."""

    BEAT = "beat"
    """A beat at the target cadence."""
    OUT_OF_BAND = "out_of_band"
    """A sound when the value has left the band."""
    BACK_IN_BAND = "back_in_band"
    """A short tone when it is back."""
    WORDS = "words"
    """A short line on the screen."""


class Target(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One measure held to a band; ``low`` or ``high`` may be left out, not both."""

    measure: str
    unit: str
    side: Side | None = None
    """None: both sides count (or the measure has none)."""
    low: float | None = None
    high: float | None = None
    beat_spm: Annotated[float, Meta(ge=120, le=220)] | None = None
    """Tempo of the beat in steps/min; cadence targets only."""
    average_steps: Annotated[int, Meta(ge=1, le=40)] = 8
    hysteresis: Annotated[float, Meta(ge=0)] = 0.0
    """How far back inside the band a value must come before it counts as back; in ``unit``."""
    cue_gap_steps: Annotated[int, Meta(ge=4, le=40)] = 8
    """Fewest steps between two cues."""
    cues: tuple[CueStyle, ...] = (CueStyle.OUT_OF_BAND, CueStyle.BACK_IN_BAND, CueStyle.WORDS)


class Athlete(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One runner by code name, with the targets set for this runner."""

    code_name: Annotated[str, Meta(min_length=1, max_length=40)]
    height_cm: Annotated[float, Meta(ge=120, le=220)]
    targets: tuple[Target, ...]
    view: View
    belt_speed_kmh: Annotated[float, Meta(ge=3, le=25)] | None = None
    """What the belt is set to; the program never sets it."""
    notes: str = ""

    @property
    def belt_speed_mps(self) -> float | None:
        """Belt speed in m/s."""
        return None if self.belt_speed_kmh is None else self.belt_speed_kmh / 3.6
