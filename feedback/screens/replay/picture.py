"""One picture of a replay, whole or only the feet, with what was found in it and a caption."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.replay.look import Shot
from feedback.screens.replay.zoom import WHOLE
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import BODY_PX, SMALL_PX, STRONG_PX
from feedback.screens.widgets.figure import LIMBS, draw_body, draw_feet
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.palette import Ink
from feedback.screens.widgets.style import named
from feedback.texts.replay import say
from shared.pictures import Picture

_ROW_PX: Final = 28
_LOW_PX: Final = 300
"""A lower place has the caption in one row."""
_FINE_LINE_PX: Final = 2.0
"""Of the landmarks' lines on the feet, which they must not hide."""


class ShotView(QWidget):
    """Shows one shot; a plain ground with the caption where there is no picture."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self._shot = Shot(None, "")
        self._image = QImage()
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(200, 160))
        named(self, name)

    @property
    def shot(self) -> Shot:
        """What is shown."""
        return self._shot

    @property
    def room(self) -> float:
        """Width of the picture's place over its height."""
        return max(1, self.width()) / max(1, self.height() - self._head_px)

    def show_shot(self, shot: Shot) -> None:
        """Show another one; the same as before costs nothing."""
        if shot == self._shot:
            return
        if shot.picture is not self._shot.picture:
            found = shot.picture
            self._image = QImage() if found is None else QImage.fromData(found.jpeg, "JPG")
        self._shot = shot
        self.setAccessibleDescription(f"{shot.caption}. {shot.detail}")
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """The caption, and the picture as large as it fits below."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(palette.CARD_TEXT.on))
        head = self._head_px
        room = QRectF(0, head, self.width(), self.height() - head)
        if self._shot.picture is None:
            self._word(painter, QRectF(self.rect()), self._shot.caption)
        else:
            self._say(painter)
        picture, part = self._shot.picture, self._shot.part
        if picture is not None and not self._image.isNull():
            wide, high = self._image.width(), self._image.height()
            seen = QRectF(part.x * wide, part.y * high, part.width * wide, part.height * high)
            place = _within(room, seen.width(), seen.height())
            painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            painter.drawImage(place, self._image, seen)
            self._found(painter, picture, place)
        painter.end()

    def _found(self, painter: QPainter, picture: Picture, place: QRectF) -> None:
        if not self._shot.body:
            return
        if not picture.xy:
            low = QRectF(place.x(), place.bottom() - 64, place.width(), 64)
            self._word(painter, low, say("nobody"), palette.CARD_NOTE)
            return
        part = self._shot.part
        wide, high = place.width() / part.width, place.height() / part.height
        whole = QRectF(place.x() - part.x * wide, place.y() - part.y * high, wide, high)
        painter.save()
        painter.setClipRect(place)
        if part == WHOLE:
            draw_body(painter, picture.xy, whole)
            draw_feet(painter, picture.xy, self._shot.marks, picture.captured_ns, whole)
        else:
            draw_body(painter, picture.xy, whole, _FINE_LINE_PX)
        painter.restore()

    @property
    def _head_px(self) -> int:
        return _ROW_PX if self.height() < _LOW_PX else 2 * _ROW_PX

    def _say(self, painter: QPainter) -> None:
        shot, left = self._shot, 12
        if shot.side is not None:
            limb = LIMBS[shot.side]
            painter.fillRect(QRectF(0, 3, 6, self._head_px - 6), QColor(limb.colour))
        row = QRectF(left, 0, self.width() - left, _ROW_PX)
        caption, ink = shot.caption, palette.CARD_TEXT
        if self._head_px == _ROW_PX:
            caption = f"{caption}, {shot.detail}" if shot.detail else caption
            face = font(BODY_PX, bold=True)
            if QFontMetricsF(face).horizontalAdvance(caption) > row.width():
                face = font(SMALL_PX)
            self._row(painter, row, caption, face, ink)
        else:
            self._row(painter, row, caption, font(STRONG_PX, bold=True), ink)
            row.translate(0, _ROW_PX)
            self._row(painter, row, shot.detail, font(BODY_PX), palette.CARD_LABEL)

    def _row(self, painter: QPainter, row: QRectF, text: str, face: QFont, ink: Ink) -> None:
        painter.setFont(face)
        painter.setPen(QColor(ink.colour))
        fitting = painter.fontMetrics().elidedText(
            text, Qt.TextElideMode.ElideRight, int(row.width())
        )
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(row, flags, fitting)

    def _word(
        self, painter: QPainter, room: QRectF, text: str, ink: Ink = palette.CARD_TEXT
    ) -> None:
        """Words in the middle, on a plate of their own."""
        painter.setFont(font(STRONG_PX, bold=True))
        flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        inner = room.adjusted(24, 0, -24, 0)
        taken = painter.boundingRect(inner, flags, text)
        painter.fillRect(taken.adjusted(-12, -6, 12, 6), QColor(ink.on))
        painter.setPen(QColor(ink.colour))
        painter.drawText(taken, flags, text)


def _within(room: QRectF, width: float, height: float) -> QRectF:
    """The largest place of this shape in the middle of ``room``."""
    scale = min(room.width() / width, room.height() / height)
    wide, high = scale * width, scale * height
    return QRectF(
        room.x() + (room.width() - wide) / 2, room.y() + (room.height() - high) / 2, wide, high
    )
