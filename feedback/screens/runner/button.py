"""The one large button of the runner's screen: Stop, and Close once it is over."""

from __future__ import annotations

from PyQt6.QtCore import QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PyQt6.QtWidgets import QAbstractButton, QWidget

from feedback.screens.runner.model import Button
from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import draw, fit
from feedback.screens.widgets.text_box import Box
from feedback.texts.runner import words


class BigButton(QAbstractButton):
    """Acts on the press when it says Stop; takes no keyboard focus, so that no key is lost."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.kind = Button.CLOSE
        self.say(Button.STOP)

    def say(self, kind: Button) -> None:
        """Change what the button is for. A press that is under way does not carry over."""
        if kind is self.kind:
            return
        self.kind = kind
        self.setDown(False)
        self.setText(words(kind.value))
        self.setAccessibleName(words(kind.value))
        self.setAccessibleDescription(words(f"{kind.value}_keys"))
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw a plate with the word, and its keys underneath."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide, high = float(self.width()), float(self.height())
        radius = 0.14 * high
        edge = max(1.0, 0.03 * high)
        plate = QRectF(edge, edge, wide - 2 * edge, high - 2 * edge)
        stop = self.kind is Button.STOP
        text = palette.STOP_TEXT if stop else palette.CLOSE_TEXT
        painter.setBrush(QColor(text.on))
        line = palette.STOP_PLATE if stop else palette.CLOSE_EDGE
        # pressed, it has an edge in the colour of its word: no colour outside the table
        painter.setPen(QPen(QColor(text.colour if self.isDown() else line.colour), edge))
        painter.drawRoundedRect(plate, radius, radius)
        word_box = Box(0.06 * wide, 0.07 * high, 0.88 * wide, 0.55 * high)
        keys_box = Box(0.06 * wide, 0.66 * high, 0.88 * wide, 0.26 * high)
        word = fit(self.text(), word_box.width, word_box.height, 0.42 * high, 1, bold=True)
        keys = fit(words(f"{self.kind.value}_keys"), keys_box.width, 0.26 * high, 0.15 * high, 1)
        draw(painter, word, word_box, text.colour)
        draw(painter, keys, keys_box, text.colour)
        painter.end()
