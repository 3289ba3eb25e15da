"""The panel's control for the volume: how loud it is, softer, and louder."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QFontMetricsF
from PyQt6.QtWidgets import QGridLayout, QSizePolicy, QToolButton, QWidget

from feedback.screens.clinician.requests import Message, MessageTone
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import enable, label, mark, named
from feedback.texts.clinician import say
from shared.messages import Snapshot

LEAST_PERCENT: Final = 10
MOST_PERCENT: Final = 100
_STEP_PERCENT: Final = 10
_KEY_PX: Final = 40
_MARGIN_PX: Final = 4
_SURE_SNAPSHOTS: Final = 2
"""The first snapshot after an answer may have been made before it."""


def softer(percent: int) -> int:
    """The next round value below."""
    return max(LEAST_PERCENT, (percent - 1) // _STEP_PERCENT * _STEP_PERCENT)


def louder(percent: int) -> int:
    """The next round value above."""
    return min(MOST_PERCENT, (percent // _STEP_PERCENT + 1) * _STEP_PERCENT)


class Turning:
    """What was asked of the station, till its snapshots tell: presses go on from there."""

    def __init__(self) -> None:
        self._asked: int | None = None
        self._done_at: int | None = None
        self._said: int | None = None

    def ask(self, percent: int) -> None:
        """Take down what was asked for."""
        self._asked, self._done_at = percent, None

    def take_in(
        self, said: int | None, number: int, message: Message | None, *, waits: bool
    ) -> None:
        """What snapshot ``number`` says, and what came of what was asked."""
        self._said = said
        if self._asked is None or waits:
            return
        if message is None or message.tone is not MessageTone.GOOD:
            self._asked = None  # refused, or no answer
        elif self._done_at is None:
            self._done_at = number
        elif number >= self._done_at + _SURE_SNAPSHOTS or number < self._done_at:
            self._asked = None

    @property
    def shown(self) -> int | None:
        """What the station plays at, by its snapshot or its answer; None: not known."""
        return self._asked if self._done_at is not None and self._asked is not None else self._said

    @property
    def base(self) -> int | None:
        """What the next press starts from."""
        return self._said if self._asked is None else self._asked


class VolumeView(QWidget):
    """Softer and louder under what the station plays at; it shows nothing that it only asked."""

    def __init__(self) -> None:
        super().__init__()
        self._ask: Callable[[int], None] | None = None
        self._changeable = False
        self._turning = Turning()
        self.value = label("", "label")
        widest = QFontMetricsF(font(SMALL_PX)).horizontalAdvance(
            say("volume_value", percent=MOST_PERCENT)
        )
        self.value.setFixedWidth(round(widest) + _MARGIN_PX)
        self.value.setAlignment(Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignBottom)
        self.less, self.more = QToolButton(), QToolButton()
        self.less.setText("\N{MINUS SIGN}")
        self.more.setText("+")
        self.less.clicked.connect(self.turn_down)
        self.more.clicked.connect(self.turn_up)
        layout = QGridLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setHorizontalSpacing(4)
        layout.setVerticalSpacing(2)
        layout.addWidget(self.value, 0, 0, 1, 2, Qt.AlignmentFlag.AlignHCenter)
        for column, key in enumerate((self.less, self.more)):
            key.setMinimumWidth(_KEY_PX)
            key.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            layout.addWidget(key, 1, column)
        self.refresh(None, None, changeable=False, waits=False)

    def on_asked(self, ask: Callable[[int], None]) -> None:
        """Whom to tell which percent is wanted."""
        self._ask = ask

    def refresh(
        self, snapshot: Snapshot | None, message: Message | None, *, changeable: bool, waits: bool
    ) -> None:
        """Show what the station plays at.

        At either end the keys stay: were one taken away under a finger that presses Space, the
        next press would fall on another control.
        """
        percent = None if snapshot is None else snapshot.volume_percent
        number = 0 if snapshot is None else snapshot.number
        self._turning.take_in(percent, number, message, waits=waits)
        self._changeable = changeable and percent is not None
        shown = self._turning.shown
        text = say("volume_none") if shown is None else say("volume_value", percent=shown)
        self.value.setText(text)
        mark(self.value, "old", not self._changeable)
        for key in (self.less, self.more):
            enable(key, self._changeable, self)
        named(self.less, say("volume_less"), say("volume_less_about", now=text))
        named(self.more, say("volume_more"), say("volume_more_about", now=text))

    def turn_down(self) -> None:
        """Ask for a step less, where there is one."""
        self._turn(softer)

    def turn_up(self) -> None:
        """Ask for a step more, where there is one."""
        self._turn(louder)

    def _turn(self, step: Callable[[int], int]) -> None:
        base = self._turning.base
        if self._ask is None or base is None or not self._changeable or step(base) == base:
            return
        self._turning.ask(step(base))
        self._ask(step(base))
