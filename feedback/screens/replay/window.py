"""The replay window: the last 20 s slowed down, picture by picture, left beside right.

For what the landmarks cannot measure this is where it is seen. The pictures are in memory only,
here and at the station, and gone when the window closes, unless somebody has them saved.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PyQt6.QtWidgets import QHBoxLayout, QSizePolicy, QVBoxLayout, QWidget

from feedback.screens.replay.arrival import SECONDS
from feedback.screens.replay.view import ReplayView
from feedback.screens.widgets.design import GAP_PX
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.stop_button import StopButton
from feedback.screens.widgets.stop_keys import StopKeys
from feedback.screens.widgets.style import card, label, style
from feedback.texts.clinician import say as panel_say
from feedback.texts.replay import say
from shared.changes import Answered
from shared.messages import Request
from shared.pictures import ReplayEnd, ReplayPicture

_FIRST_PX: Final = (1180, 860)
_STOP_PX: Final = (170, 60)
_CLOSE_KEY: Final = "Ctrl+W"


class ReplayWindow(QWidget):
    """The replay in a window of its own; it takes nothing away from the session.

    ``ask`` sends a request to the station. ``stop`` is called by the Stop button and by the keys
    that stop in the panel that it was opened from.
    """

    def __init__(
        self, ask: Callable[[Request], None], stop: Callable[[], object], name: str = ""
    ) -> None:
        super().__init__()
        self.setWindowTitle(say("title_of", name=name) if name else say("title"))
        self.manual = Help(self, "panel")
        self.setObjectName("ground")
        self.setStyleSheet(style())
        self.resize(*_FIRST_PX)
        self.view = ReplayView(ask)
        self.stop_button = StopButton(panel_say("stop_keys"), _STOP_PX, 24)
        self.stop_button.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        self.stop_button.stop.connect(stop)
        head = QWidget()
        card(head)
        head.setFixedHeight(_STOP_PX[1] + 8)
        head.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        row = QHBoxLayout(head)
        row.setContentsMargins(12, 4, 4, 4)
        row.addWidget(label(say("head", seconds=round(SECONDS)), "head"), 1)
        row.addWidget(self.stop_button)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(GAP_PX, GAP_PX, GAP_PX, GAP_PX)
        layout.setSpacing(GAP_PX)
        layout.addWidget(head)
        layout.addWidget(self.view, 1)
        shortcut = QShortcut(QKeySequence(_CLOSE_KEY), self)
        shortcut.setAutoRepeat(False)
        shortcut.activated.connect(self.close)
        self._stop = stop
        StopKeys(self, self._ask_stop)

    def open(self) -> None:
        """Show the window and get the newest pictures."""
        self.show()
        self.raise_()
        self.activateWindow()
        self.view.line.setFocus()
        self.view.get_anew()

    def take(self, parts: Iterable[ReplayPicture | ReplayEnd]) -> None:
        """Take in what the link has of a replay; a window that is closed keeps nothing."""
        if self.isVisible():
            self.view.take(parts)

    def on_answer(self, answer: Answered) -> bool:
        """Take in an answer; whether it was one to this replay."""
        return self.view.on_answer(answer)

    def say_stoppable(self, stoppable: bool) -> None:
        """Stop while there is something to stop."""
        text = panel_say("stop" if stoppable else "stop_over")
        if self.stop_button.text() != text:
            self.stop_button.setText(text)
            self.stop_button.setAccessibleName(text)
        self.stop_button.setEnabled(stoppable)

    def _ask_stop(self, _has_keys: QWidget) -> bool:
        if self.stop_button.isEnabled():
            self._stop()
        return self.stop_button.isEnabled()

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """All pictures are gone with the window."""
        self.view.forget()
        super().closeEvent(event)
