"""The time line of a replay: the contacts and toe-offs of each side, and where it stands."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt, pyqtSignal
from PyQt6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QPixmap, QResizeEvent
from PyQt6.QtWidgets import QWidget

from feedback.screens.replay.model import Clip
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.figure import draw_mark
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import named
from feedback.texts.replay import say
from shared.flow import Side
from shared.units import NS_PER_S

_LANE_PX: Final = 24
_AXIS_PX: Final = 20
_MARK_PX: Final = 11.0
_END_PX: Final = 16.0
_EVERY_S: Final = (1, 2, 5, 10)
_LEAST_PX: Final = 64.0
"""Between two numbers of the axis."""
_INKS: Final = {Side.LEFT: palette.LEFT_LINE, Side.RIGHT: palette.RIGHT_LINE}


class TimeLine(QWidget):
    """Oldest at the left. ``wanted``: somebody has pointed at a time (ns of the clip)."""

    wanted = pyqtSignal(object)

    def __init__(self) -> None:
        super().__init__()
        self._clip: Clip | None = None
        self._cursors: tuple[int, ...] = ()
        self._still: QPixmap | None = None
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFixedHeight(2 * _LANE_PX + _AXIS_PX + 8)
        named(self, say("time_line"), say("time_line_about"))

    def show_clip(self, clip: Clip | None) -> None:
        """Show another replay, or none."""
        if clip is not self._clip:
            self._clip = clip
            self._still = None
            self.update()

    def point_at(self, *at_ns: int) -> None:
        """Where the replay stands: one time, or those of two pictures side by side."""
        if at_ns != self._cursors:
            self._cursors = at_ns
            self.update()

    def mousePressEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Go where somebody points."""
        self._want(event)

    def mouseMoveEvent(self, event: QMouseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Follow while the button is down."""
        self._want(event)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Everything has another place."""
        self._still = None
        super().resizeEvent(event)

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the lanes and the axis, kept from before, and where it stands."""
        if self._still is None or self._still.devicePixelRatio() != self.devicePixelRatioF():
            self._still = self._draw_still()
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._still)
        if self._clip is not None:
            painter.setPen(QPen(QColor(palette.CHANGE_MARK.colour), 2))
            for at_ns in self._cursors:
                x = self._x(self._clip, at_ns)
                painter.drawLine(QPointF(x, 2), QPointF(x, 2 * _LANE_PX + 8))
        if self.hasFocus():
            painter.setPen(QPen(QColor(palette.KEY_FOCUS.colour), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _draw_still(self) -> QPixmap:
        """What does not move while it plays; some hundred marks take a while to draw."""
        ratio = self.devicePixelRatioF()
        still = QPixmap(self.size() * ratio)
        still.setDevicePixelRatio(ratio)
        still.fill(QColor(palette.CARD_TEXT.on))
        painter = QPainter(still)
        painter.setFont(font(SMALL_PX))
        start, length = self._span()
        for row, side in enumerate(Side):
            self._lane(painter, side, 4 + (row + 0.5) * _LANE_PX, start, length)
        if self._clip is not None:
            self._axis(painter, self._clip, start, length)
        painter.end()
        return still

    def _lane(
        self, painter: QPainter, side: Side, middle: float, start: float, length: float
    ) -> None:
        pen = QPen(QColor(_INKS[side].colour), 2)
        pen.setStyle(Qt.PenStyle.SolidLine if side is Side.LEFT else Qt.PenStyle.DashLine)
        painter.setPen(pen)
        painter.drawLine(QPointF(start, middle), QPointF(start + length, middle))
        painter.setPen(QColor(palette.CARD_TEXT.colour))
        place = QRectF(8, middle - _LANE_PX / 2, start, _LANE_PX)
        painter.drawText(place, Qt.AlignmentFlag.AlignVCenter, say(f"line_{side}"))
        clip = self._clip
        if clip is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for mark in clip.marks:
            if mark.side is side and clip.first_ns <= mark.at_ns <= clip.last_ns:
                draw_mark(painter, mark, QPointF(self._x(clip, mark.at_ns), middle), _MARK_PX)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, on=False)

    def _axis(self, painter: QPainter, clip: Clip, start: float, length: float) -> None:
        """Seconds before the end."""
        span_s = (clip.last_ns - clip.first_ns) / NS_PER_S
        room = length / max(span_s, 1e-6)
        every = next((step for step in _EVERY_S if step * room >= _LEAST_PX), _EVERY_S[-1])
        top = 2.0 * _LANE_PX + 8
        painter.setPen(QColor(palette.CARD_LABEL.colour))
        for ago_s in range(0, int(span_s) + 1, every):
            x = start + length - ago_s * room
            painter.drawLine(QPointF(x, top - 4), QPointF(x, top))
            text = say("axis", seconds=ago_s) if ago_s else say("axis_end")
            place = QRectF(x - 40, top, 80, _AXIS_PX)
            if place.left() >= 0:
                where = Qt.AlignmentFlag.AlignHCenter
                if place.right() > self.width() - 6:
                    place.setRight(self.width() - 6.0)
                    where = Qt.AlignmentFlag.AlignRight
                painter.drawText(place, where | Qt.AlignmentFlag.AlignVCenter, text)

    def _span(self) -> tuple[float, float]:
        metrics = self.fontMetrics()
        start = 20.0 + max(metrics.horizontalAdvance(say(f"line_{side}")) for side in Side)
        return start, self.width() - start - _END_PX

    def _x(self, clip: Clip, at_ns: int) -> float:
        start, length = self._span()
        return start + length * (at_ns - clip.first_ns) / max(1, clip.last_ns - clip.first_ns)

    def _want(self, event: QMouseEvent | None) -> None:
        if event is None or self._clip is None:
            return
        if (
            event.buttons() & Qt.MouseButton.LeftButton
            or event.button() is Qt.MouseButton.LeftButton
        ):
            start, length = self._span()
            share = min(max((event.position().x() - start) / max(1.0, length), 0.0), 1.0)
            span_ns = self._clip.last_ns - self._clip.first_ns
            self.wanted.emit(self._clip.first_ns + round(share * span_ns))
