"""The Stop button of a clinician's windows: by mouse and by key, whatever else does not work."""

from __future__ import annotations

from PyQt6.QtCore import QSize, Qt, pyqtSignal
from PyQt6.QtGui import QPainter, QPaintEvent, QPalette
from PyQt6.QtWidgets import QPushButton, QStyle, QStyleOptionButton, QStylePainter

from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import named
from feedback.texts.clinician import say


class StopButton(QPushButton):
    """Acts on the press, by mouse and by key, and works whatever else does not."""

    stop = pyqtSignal()

    def __init__(self, keys: str, size_px: tuple[int, int], word_px: int) -> None:
        super().__init__(say("stop"))
        self.setObjectName("stop")
        self._keys = keys
        self._word_px = word_px
        self._size_px = size_px
        self.setFixedSize(*size_px)
        self.pressed.connect(self._on_pressed)
        named(self, say("stop"), say("stop_about"))

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Its whole size, also once a style sheet has lowered the least one."""
        return QSize(*self._size_px)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """No layout makes Stop smaller."""
        return QSize(*self._size_px)

    def refresh(self, *, stoppable: bool) -> None:
        """Stop while there is something to stop."""
        text = say("stop" if stoppable else "stop_over")
        if self.text() != text:
            self.setText(text)
            self.setAccessibleName(text)
            self.update()
        self.setEnabled(stoppable)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """The word, large, and its keys underneath."""
        painter = QStylePainter(self)
        option = QStyleOptionButton()
        self.initStyleOption(option)
        option.text = ""
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        painter.setPen(option.palette.color(QPalette.ColorRole.ButtonText))
        painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
        keys = self._keys if self.isEnabled() else ""
        room = self.rect().adjusted(4, 4, -4, -4)
        painter.setFont(font(self._word_px, bold=True))
        upper = room.adjusted(0, 0, 0, -SMALL_PX - 8) if keys else room
        painter.drawText(upper, Qt.AlignmentFlag.AlignCenter, self.text())
        if keys:
            painter.setFont(font(SMALL_PX))
            lower = room.adjusted(0, room.height() - SMALL_PX - 14, 0, 0)
            painter.drawText(lower, Qt.AlignmentFlag.AlignCenter, keys)
        painter.end()

    def _on_pressed(self) -> None:
        self.stop.emit()
