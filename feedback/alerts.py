"""Warnings that the runner gets while the session goes on, and the rating of pain (pure)."""

from __future__ import annotations

from typing import Final

from feedback.cues import CUES
from feedback.safety import PainLevel, pain_level
from shared.clock_units import NS_PER_S
from shared.records import Cue, CueKind
from shared.targets import Limits

SOUND_AGAIN_NS: Final = 2 * NS_PER_S
"""A warning that stands sounds again after so long."""
PAIN_SHOWN_NS: Final = 10 * NS_PER_S
ANSWER_WITHIN_NS: Final = 30 * NS_PER_S
"""After this a question that was not answered goes away."""
EDGE: Final = "warn_belt_edge"
PAIN: Final = "warn_pain"


class EdgeWarning:
    """Near the rear edge of the belt: shown for as long as it lasts, sounded again and again."""

    def __init__(self) -> None:
        self.on = False
        self._sounded_ns: int | None = None

    def update(self, near_edge: bool, captured_ns: int, now_ns: int) -> Cue | None:
        """The sound that is due now, if any."""
        self.on = near_edge
        if not near_edge:
            return None
        if self._sounded_ns is not None and now_ns - self._sounded_ns < SOUND_AGAIN_NS:
            return None
        self._sounded_ns = now_ns
        return warning_cue(EDGE, captured_ns, now_ns)


class PainWatch:
    """The newest rating of pain, and when the next one is asked for."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._every_ns: int | None = None
        if limits.ask_pain_every_min is not None:
            self._every_ns = round(limits.ask_pain_every_min * 60 * NS_PER_S)
        self._asked = 0
        """How many set points have passed."""
        self._asked_ns: int | None = None
        self._caution_ns: int | None = None
        self.newest: int | None = None
        """0 to 10."""

    def on_clock(self, ran_ns: int, now_ns: int) -> None:
        """Ask when the next set point, in running time, is reached."""
        if self._every_ns is not None and ran_ns // self._every_ns > self._asked:
            self._asked = ran_ns // self._every_ns
            self._asked_ns = now_ns

    def on_rating(self, rating: int, now_ns: int) -> PainLevel:
        """Take in a rating, asked for or not."""
        self.newest = rating
        self._asked_ns = None
        level = pain_level(rating, self._limits)
        self._caution_ns = now_ns if level is PainLevel.CAUTION else None
        return level

    def asks(self, now_ns: int) -> bool:
        """Whether an answer is waited for."""
        return self._asked_ns is not None and now_ns - self._asked_ns < ANSWER_WITHIN_NS

    def warns(self, now_ns: int) -> bool:
        """Whether the runner is to be told to ease off."""
        return self._caution_ns is not None and now_ns - self._caution_ns < PAIN_SHOWN_NS


def warning_cue(words: str, captured_ns: int, now_ns: int) -> Cue:
    """The sound of a warning with its line."""
    return Cue(
        kind=CueKind.WARNING,
        measure=None,
        side=None,
        sound=CUES[CueKind.WARNING].sound,
        words=words,
        step_number=0,
        captured_ns=captured_ns,
        decided_ns=now_ns,
    )
