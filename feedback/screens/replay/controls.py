"""The controls of the replay: every act with its button and its key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QKeySequence, QShortcut
from PyQt6.QtWidgets import (
    QHBoxLayout,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.replay.arrival import SECONDS
from feedback.screens.replay.look import CONTACTS, SPEEDS, Do
from feedback.screens.widgets.style import label, named
from feedback.texts.replay import say

KEYS: Final[dict[Do, str]] = {
    Do.BACK: "Left",
    Do.ON: "Right",
    Do.FIRST: "Home",
    Do.LAST: "End",
    Do.FULL: "1",
    Do.HALF: "2",
    Do.QUARTER: "4",
    Do.BODY: "M",
    Do.ZOOM: "Z",
    Do.BOTH: "B",
    Do.PREVIOUS_LEFT: "Shift+L",
    Do.NEXT_LEFT: "L",
    Do.PREVIOUS_RIGHT: "Shift+R",
    Do.NEXT_RIGHT: "R",
    Do.OLDER: "Up",
    Do.NEWER: "Down",
    Do.ANEW: "N",
    Do.CANCEL: "G",
    Do.SAVE: "Ctrl+S",
}
"""Space, which plays, is not among them: on a button that has the focus it presses that button."""
_REPEATS: Final = frozenset({Do.BACK, Do.ON, Do.OLDER, Do.NEWER, *CONTACTS})
"""Acts that go on while their key is held down."""
_SHORT: Final = frozenset({Do.BACK, Do.ON, Do.OLDER, Do.NEWER, *SPEEDS, *CONTACTS})
"""Their texts need the place they stand in; a screen reader says what they are about instead."""
_PADDING: Final = "QPushButton, QToolButton { padding: 2px 8px; }"
_GAP_PX: Final = 4
_APART_PX: Final = 12


class Controls(QWidget):
    """Two rows of buttons. ``wanted``: what was pressed, by mouse or by key."""

    wanted = pyqtSignal(Do)

    def __init__(self, keys_of: QWidget) -> None:
        super().__init__()
        self.buttons: dict[Do, QPushButton | QToolButton] = {}
        rows = QVBoxLayout(self)
        rows.setContentsMargins(0, 0, 0, 0)
        rows.setSpacing(_GAP_PX)
        rows.addLayout(
            self._row((Do.PLAY, Do.BACK, Do.ON), tuple(SPEEDS), (Do.BODY, Do.ZOOM, Do.BOTH))
        )
        rows.addLayout(
            self._row(tuple(CONTACTS), (Do.OLDER, Do.NEWER), (Do.ANEW, Do.CANCEL, Do.SAVE))
        )
        for act, key in KEYS.items():
            shortcut = QShortcut(QKeySequence(key), keys_of)
            shortcut.setContext(Qt.ShortcutContext.WindowShortcut)
            shortcut.setAutoRepeat(act in _REPEATS)
            shortcut.activated.connect(lambda act=act: self._on_key(act))
        self._keep_width(self.buttons[Do.PLAY], say("play"), say("pause"))

    def say_playing(self, playing: bool) -> None:
        """The first button plays, or stays."""
        text = say("pause" if playing else "play")
        button = self.buttons[Do.PLAY]
        if button.text() != text:
            button.setText(text)
            button.setAccessibleName(text)

    def allow(self, act: Do, allowed: bool) -> None:
        """Whether an act has something to do now."""
        if act in self.buttons:
            self.buttons[act].setEnabled(allowed)

    def check(self, act: Do, on: bool) -> None:
        """Whether what can be switched is on."""
        self.buttons[act].setChecked(on)

    def _row(self, *groups: Sequence[Do]) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(_GAP_PX)
        for number, group in enumerate(groups):
            if number:
                row.addSpacing(_APART_PX)
            if group[0] in SPEEDS:
                row.addWidget(label(say("speed"), "label"))
            for act in group:
                row.addWidget(self._button(act))
        row.addStretch(1)
        return row

    def _button(self, act: Do) -> QPushButton | QToolButton:
        switch = act in SPEEDS or act in (Do.BODY, Do.ZOOM, Do.BOTH)
        button = QToolButton() if switch else QPushButton()
        button.setText(say(act))
        if switch:
            button.setCheckable(True)
        button.setStyleSheet(_PADDING)
        button.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        # a click leaves the keys where they were, so that Space still plays after it
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        digit = act.removeprefix("speed_")
        about = say(
            f"speed_about_{digit}" if act in SPEEDS else f"{act}_about", seconds=round(SECONDS)
        )
        key = KEYS.get(act, say("play_keys"))
        name = about if act in _SHORT else button.text()
        named(button, name, say("with_key", about=about, press=key))
        button.clicked.connect(lambda _=False, act=act: self.wanted.emit(act))
        self.buttons[act] = button
        return button

    def _keep_width(self, button: QPushButton | QToolButton, *texts: str) -> None:
        """Have room for each of these texts, so that nothing moves when they change."""
        now = button.text()
        widths = []
        for text in texts:
            button.setText(text)
            button.ensurePolished()
            widths.append(button.sizeHint().width())
        button.setText(now)
        button.setMinimumWidth(max(widths))

    def _on_key(self, act: Do) -> None:
        button = self.buttons.get(act)
        if button is None or button.isEnabled():
            self.wanted.emit(act)
