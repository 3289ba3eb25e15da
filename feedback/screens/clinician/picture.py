"""The camera's picture with what was found in it, and the last contacts and toe-offs below."""

from __future__ import annotations

from collections import deque
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QImage, QPainter, QPaintEvent, QPen, QResizeEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.widgets import palette
from feedback.screens.widgets.design import BODY_PX, SMALL_PX
from feedback.screens.widgets.figure import (
    Landing,
    draw_body,
    draw_feet,
    draw_landing,
    draw_mark,
    landing_of,
)
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import named
from feedback.texts.clinician import say
from shared.flow import EventKind, Side
from shared.pictures import Picture

MARKS_S: Final = 2.0
_USUAL: Final = 3 / 4
"""Height by width of a picture that has not come yet."""
_BODIES: Final = 12
_NEAR_NS: Final = 70_000_000
"""A picture further from a contact than that does not show it."""
_LANE_PX: Final = 24
_STRIP_PX: Final = 2 * _LANE_PX + 20


class PictureView(QWidget):
    """Shows the newest picture; a plain ground with a word where there is none."""

    def __init__(self) -> None:
        super().__init__()
        self._picture: Picture | None = None
        self._image = QImage()
        self._old = False
        self._bodies: deque[tuple[int, tuple[float, ...]]] = deque(maxlen=_BODIES)
        self._landings: dict[Side, tuple[int, Landing]] = {}
        self.from_the_side = True
        """Where the foot lands ahead of the hips can be seen."""
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(240, 200))
        named(self, say("picture"), say("picture_about"))
        self.setToolTip("")

    def show_picture(self, picture: Picture | None, *, old: bool = False) -> None:
        """Take in a picture; one that is the same as before costs nothing."""
        if picture is self._picture and old == self._old:
            return
        if picture is not self._picture:
            self._picture = picture
            self._take_landings(picture)
            self._image = QImage() if picture is None else QImage.fromData(picture.jpeg, "JPG")
        self._old = old
        self.update()

    def _take_landings(self, picture: Picture | None) -> None:
        """Keep, of each side, the body as it was at its newest contact."""
        if picture is None:
            self._bodies.clear()
            self._landings.clear()
            return
        if picture.xy:
            self._bodies.append((picture.captured_ns, picture.xy))
        for mark in picture.marks:
            if mark.kind is not EventKind.CONTACT or not self._bodies:
                continue
            known = self._landings.get(mark.side)
            # a contact is known some pictures after it
            off_ns, xy = min(
                (abs(captured_ns - mark.at_ns), xy) for captured_ns, xy in self._bodies
            )
            if off_ns > _NEAR_NS or (known is not None and known[0] >= mark.at_ns):
                continue
            landing = landing_of(xy, mark.side)
            if landing is not None:
                self._landings[mark.side] = (mark.at_ns, landing)

    def _draw_landings(self, painter: QPainter, captured_ns: int, place: QRectF) -> None:
        for at_ns, landing in self._landings.values():
            if 0 <= captured_ns - at_ns <= MARKS_S * 1e9:
                draw_landing(painter, landing, place)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Take no more height than the picture needs."""
        super().resizeEvent(event)
        needed = round(self.width() * self._shape()) + _STRIP_PX
        self.setMaximumHeight(max(self.minimumHeight(), needed))

    def _shape(self) -> float:
        """Height by width."""
        return _USUAL if self._image.isNull() else self._image.height() / self._image.width()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the picture as large as it fits, and the strip of marks below."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(palette.CARD_TEXT.on))
        room = QRectF(0, 0, self.width(), self.height() - _STRIP_PX)
        if self._image.isNull() or self._picture is None:
            self._word(painter, room, say("picture_none"))
        else:
            place = _within(room, self._image.width(), self._image.height())
            painter.drawImage(place, self._image)
            if self._picture.xy:
                if self.from_the_side:
                    self._draw_landings(painter, self._picture.captured_ns, place)
                draw_body(painter, self._picture.xy, place)
                draw_feet(
                    painter,
                    self._picture.xy,
                    self._picture.marks,
                    self._picture.captured_ns,
                    place,
                )
            else:
                self._word(painter, place, say("picture_nobody"))
            if self._old:
                self._word(painter, place, say("picture_old"))
        self._strip(painter, QRectF(0, room.height(), self.width(), _STRIP_PX))
        painter.end()

    def _word(self, painter: QPainter, room: QRectF, text: str) -> None:
        painter.setFont(font(BODY_PX, bold=True))
        width = painter.fontMetrics().horizontalAdvance(text) + 24
        plate = QRectF(room.center().x() - width / 2, room.bottom() - 48, width, 32)
        painter.fillRect(plate, QColor(palette.CARD_NOTE.on))
        painter.setPen(QColor(palette.CARD_NOTE.colour))
        painter.drawText(plate, Qt.AlignmentFlag.AlignCenter, text)

    def _strip(self, painter: QPainter, strip: QRectF) -> None:
        painter.setFont(font(SMALL_PX))
        names = {Side.LEFT: say("mark_left"), Side.RIGHT: say("mark_right")}
        metrics = painter.fontMetrics()
        start = 12.0 + max(metrics.horizontalAdvance(name) for name in names.values())
        length = strip.width() - start - 12
        inks = {Side.LEFT: palette.LEFT_LINE, Side.RIGHT: palette.RIGHT_LINE}
        for row, (side, name) in enumerate(names.items()):
            middle = strip.y() + (row + 0.5) * _LANE_PX
            pen = QPen(QColor(inks[side].colour), 2)
            pen.setStyle(Qt.PenStyle.SolidLine if side is Side.LEFT else Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawLine(QPointF(start, middle), QPointF(start + length, middle))
            painter.setPen(QColor(palette.CARD_TEXT.colour))
            lane = QRectF(6, strip.y() + row * _LANE_PX, start, _LANE_PX)
            painter.drawText(lane, Qt.AlignmentFlag.AlignVCenter, name)
            if self._picture is not None:
                for mark in self._picture.marks:
                    ago_s = (self._picture.captured_ns - mark.at_ns) / 1e9
                    if mark.side is side and 0 <= ago_s <= MARKS_S:
                        x = start + length * (1 - ago_s / MARKS_S)
                        draw_mark(painter, mark, QPointF(x, middle), 11)
        painter.setFont(font(SMALL_PX))
        painter.setPen(QColor(palette.CARD_LABEL.colour))
        legend = QRectF(6, strip.y() + 2 * _LANE_PX, strip.width() - 12, 18)
        told = say("mark_legend_side" if self.from_the_side else "mark_legend")
        painter.drawText(legend, Qt.AlignmentFlag.AlignVCenter, told)


def _within(room: QRectF, width: float, height: float) -> QRectF:
    """The largest place of this shape in the middle of ``room``."""
    scale = min(room.width() / width, room.height() / height)
    wide, high = scale * width, scale * height
    return QRectF(
        room.x() + (room.width() - wide) / 2, room.y() + (room.height() - high) / 2, wide, high
    )
