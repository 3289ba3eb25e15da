"""What a row of the catalogue says of a measure, and what is said of a unit (pure)."""

from __future__ import annotations

from typing import Final

import msgspec

from shared.flow import View

FORGET_S: Final = 3.0
"""In the mean stride what is so much older counts by a factor of e less."""


class MeasureSpec(msgspec.Struct, frozen=True, kw_only=True):
    """Definition of one measure."""

    name: str
    title: str
    """The trade's term, as it stands in reports, files' listings and on the terminal."""
    short_title: str = ""
    """The same where there is little room, as in the clinician's tables; else the title."""
    runner_title: str = ""
    """In everyday words, for the runner's own screen; else the short title."""
    units: tuple[str, ...]
    """The first is used where the scale is known; lengths fall back to % of leg length."""
    by_side: bool
    """Whether each value is of one side, and rests on steps of that side alone."""
    views: frozenset[View]
    definition: str
    sign: str
    """What a positive value means."""
    source: str
    averaged: str
    """How live values are averaged."""
    plausible: tuple[float, float]
    """Outside this range (in the first unit) a value is taken for a tracking error."""
    window_s: float = 0.0
    """Each value is read from so long a stretch of running (the mean stride), where that is longer
    than its ``steps``: values that are nearer together rest on the same steps in part."""
    forget_s: float = FORGET_S
    """Within that stretch what is so much older counts by a factor of e less."""
    own_step: float = 0.0
    """So much of a value with a ``window_s`` is the step's own, the rest the mean stride's. As it
    shows in how values resemble those before them, where made-up runners with independent steps go
    through the live core (tests/live/test_overlap.py)."""
    quality_floor: float = 0.5
    """Under this quality nothing is cued."""
    decimals: int = 1
    needs_contact: bool = True
    """Whether a value rests on the instant of contact."""
    not_offered: str = ""
    """Why no live value is given although the view could show it; empty when it is given."""

    def __post_init__(self) -> None:
        """Titles that were not given are those before them."""
        short = self.short_title or self.title
        msgspec.structs.force_setattr(self, "short_title", short)
        msgspec.structs.force_setattr(self, "runner_title", self.runner_title or short)


class UnitSpec(msgspec.Struct, frozen=True):
    """One unit that measures come in."""

    name: str
    """In files and records, and in what is typed."""
    shown: str
    """On screens, after a number."""
    ucum: str
    """Code of the Unified Code for Units of Measure; what stands in braces changes no unit."""
