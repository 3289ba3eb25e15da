"""What each key does: on the runner's screen any key stops, but for the few that are named here.

Presenters send Page Up and Page Down, the arrows, B, the full stop, F5, Shift+F5, Esc, Return and
Tab; foot pedals send whatever they were set to, often letters or F13 to F24. All of these stop, in
every state, for whoever needs Stop has no time to look for a key.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QKeyEvent

from feedback.screens.runner.model import Button, Showing
from feedback.screens.widgets.key_kinds import says_nothing
from shared.messages import Rating
from shared.targets import Question


class Act(StrEnum):
    """What is to be done."""

    STOP = "stop"
    CONFIRM = "confirm"
    PAUSE = "pause"
    GO_ON = "go_on"
    RATE = "rate"
    CLOSE = "close"
    HELP = "help"


_K = Qt.Key
OWN: Final = {_K.Key_Y: Act.CONFIRM, _K.Key_P: Act.PAUSE, _K.Key_C: Act.GO_ON}
"""These never stop, not even where they have nothing to do: a second press comes easily."""
DIGITS: Final = {_K(_K.Key_0 + digit): digit for digit in range(10)}
TEN_WITHIN_NS: Final = 1_200_000_000
"""A 1 waits so long for a 0 that makes it 10; every other digit counts at once."""


class RatingKeys:
    """Turns digits into ratings from 0 to 10. What is typed anew takes the place of before."""

    def __init__(self) -> None:
        self._one: _One | None = None

    def press(self, digit: int, what: Question, at_ns: int) -> tuple[Rating, ...]:
        """What a digit rates now."""
        before, self._one = self._one, None
        if before is not None and digit == 0 and at_ns - before.at_ns <= TEN_WITHIN_NS:
            return (Rating(what=before.what, value=10),)
        earlier = () if before is None else (Rating(what=before.what, value=1),)
        if digit == 1:
            self._one = _One(what, at_ns)
            return earlier
        return (*earlier, Rating(what=what, value=digit))

    def wait(self, at_ns: int) -> tuple[Rating, ...]:
        """The 1 that was typed, once no 0 has followed for long enough."""
        one = self._one
        if one is None or at_ns - one.at_ns <= TEN_WITHIN_NS:
            return ()
        self._one = None
        return (Rating(what=one.what, value=1),)


ANSWERS: Final = frozenset({Act.CONFIRM, Act.GO_ON, Act.RATE})
"""What answers a page; only once it has stood for :data:`STANDS_NS`."""


@dataclass(frozen=True, slots=True)
class _One:
    """A 1 that may become 10."""

    what: Question
    at_ns: int


def act_of(event: QKeyEvent, showing: Showing) -> Act | None:
    """What this key press asks for on this picture; None for nothing."""
    try:
        key = _K(event.key())
    except ValueError:  # a key that even Qt has no name for
        key = _K.Key_unknown
    if showing.button is Button.CLOSE:
        if key is _K.Key_Escape:
            return None if event.isAutoRepeat() else Act.CLOSE
        # Never wrong, even where the station seems to be gone.
        return None if says_nothing(event, key) or key in OWN or key in DIGITS else Act.STOP
    if says_nothing(event, key):
        return None
    if key is _K.Key_F1 and showing.action is Button.CONFIRM:  # nothing runs yet
        return None if event.isAutoRepeat() else Act.HELP
    if key in OWN:
        return OWN[key] if OWN[key] in _offered(showing) else None
    if key in DIGITS:
        return Act.RATE if showing.rates is not None and not event.isAutoRepeat() else None
    return Act.STOP


def _offered(showing: Showing) -> tuple[Act, ...]:
    if showing.action is Button.CONFIRM:
        return (Act.CONFIRM,)
    if showing.action is Button.GO_ON:
        return (Act.GO_ON,)
    return (Act.PAUSE,) if showing.pausable else ()
