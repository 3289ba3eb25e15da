"""Warnings that the runner gets while the session goes on, and what is rated (pure)."""

from __future__ import annotations

from collections import deque
from typing import Final

from feedback.cueing.cue_table import CUES
from feedback.safety.rules import PainLevel, pain_level
from shared.flow import Cue, CueKind
from shared.targets import Limits, Question
from shared.units import NS_PER_S

SOUND_AGAIN_NS: Final = 2 * NS_PER_S
"""A warning that stands sounds again after so long."""
PAIN_SHOWN_NS: Final = 10 * NS_PER_S
ANSWER_WITHIN_NS: Final = 30 * NS_PER_S
"""After this a question that was not answered goes away."""
EDGE: Final = "warn_belt_edge"
PAIN: Final = "warn_pain"
HEART: Final = "warn_heart"


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


class Ratings:
    """What the runner has rated, and what is asked for; one question at a time."""

    def __init__(self, limits: Limits) -> None:
        self._limits = limits
        self._open: deque[tuple[Question, int]] = deque()
        self._caution_ns: int | None = None
        self.newest: dict[Question, int] = {}
        """0 to 10 each."""

    def ask(self, what: Question, now_ns: int) -> None:
        """Ask, after the questions that are open already."""
        if all(what is not asked for asked, _ in self._open):
            self._open.append((what, now_ns))

    def take(self, what: Question, value: int, now_ns: int) -> PainLevel:
        """Take in a rating, asked for or not, and say what it calls for."""
        self.newest[what] = value
        self._open = deque((asked, at) for asked, at in self._open if asked is not what)
        if self._open:  # the next one gets its full time
            self._open[0] = (self._open[0][0], now_ns)
        if what is not Question.PAIN:
            return PainLevel.FINE
        level = pain_level(value, self._limits)
        self._caution_ns = now_ns if level is PainLevel.CAUTION else None
        return level

    def asked(self, now_ns: int) -> Question | None:
        """What an answer is waited for; a question that was left unanswered goes away."""
        while self._open and now_ns - self._open[0][1] > ANSWER_WITHIN_NS:
            self._open.popleft()
            if self._open:
                self._open[0] = (self._open[0][0], now_ns)
        return self._open[0][0] if self._open else None

    def cautions(self, now_ns: int) -> bool:
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
