"""Heart rate and belt speed of the last ten minutes, as two small lines in the panel's head."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QPointF, QRectF
from PyQt6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.clinician.sensor_history import SensorHistory
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.texts.clinician import say

WIDE_PX: Final = 200
_PAD_PX: Final = 3.0


class SensorTrend(QWidget):
    """Keeps its place once there is a sensor; drawn only while the details are shown."""

    def __init__(self) -> None:
        super().__init__()
        self.history = SensorHistory()
        self._now_ns = 0
        self._drawn = False
        self.setFixedWidth(0)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Ignored)
        self.setAccessibleName(say("trend_about"))
        self.setToolTip(say("trend_about"))

    def refresh(self, now_ns: int, *, roomy: bool, drawn: bool) -> None:
        """``now_ns`` by the station's clock; ``roomy``: there is room beside the head's words."""
        wide = WIDE_PX if roomy and self.history.names else 0
        if wide != self.width():
            self.setFixedWidth(wide)
        self._now_ns, self._drawn = now_ns, drawn
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """One line below the other, each with its name."""
        names = self.history.names
        if not self._drawn or not names or not self.width():
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(font(SMALL_PX))
        metrics = painter.fontMetrics()
        each = self.height() / len(names)
        for row, name in enumerate(names):
            top = row * each
            painter.setPen(QColor(palette.CARD_LABEL.colour))
            text = say(f"trend_{name}")
            painter.drawText(QPointF(_PAD_PX, top + metrics.ascent()), text)
            room = QRectF(
                _PAD_PX,
                top + metrics.height() + _PAD_PX,
                self.width() - 2 * _PAD_PX,
                max(4.0, each - metrics.height() - 2 * _PAD_PX),
            )
            painter.setPen(QPen(QColor(palette.CARD_LABEL.colour), 1.6))
            for line in self.history.lines(name, self._now_ns):
                points = [
                    QPointF(room.left() + x * room.width(), room.bottom() - y * room.height())
                    for x, y in line
                ]
                if len(points) == 1:
                    painter.drawPoint(points[0])
                painter.drawPolyline(QPolygonF(points))
        painter.end()
