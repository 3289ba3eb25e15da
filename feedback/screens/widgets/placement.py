"""A picture of where the laptop goes: belt, runner and free space seen from above, in metres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from PyQt6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import named
from shared.flow import View
from shared.language import _

_BELT_M: Final = QRectF(-0.85, -0.3, 1.7, 0.6)
_FREE_M: Final = QRectF(-2.85, -0.5, 2.0, 1.0)
"""The 2 m by 1 m behind the belt that nothing stands in."""
_SHOULDERS_M: Final = (0.13, 0.24)
_HEAD_M: Final = 0.11
_LAPTOP_M: Final = (0.4, 0.28)
_SEES_DEGREES: Final = 26.0
_EDGE_M: Final = 0.35


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the laptop stands, and what is shown around it; x forward, y to the runner's right."""

    x: float
    y: float
    shown: QRectF


_PLACES: Final[dict[View, _Place]] = {
    # A little ahead of the runner, so that it is turned towards the runner's front.
    View.SIDE: _Place(0.6, 2.6, QRectF(-2.9, -0.55, 4.1, 3.55)),
    View.BEHIND: _Place(-3.6, 0.0, QRectF(-4.1, -0.9, 5.3, 1.8)),
    View.FRONT: _Place(2.9, 0.0, QRectF(-2.9, -0.9, 6.3, 1.8)),
}


class PlacementPicture(QWidget):
    """Drawn at any size; a screen reader gets it in words."""

    def __init__(self) -> None:
        super().__init__()
        self._view = View.SIDE
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(220, 160))

    def show_view(self, view: View) -> None:
        """Show where the laptop goes for this view."""
        self._view = view
        named(self, words_of(view))
        self.setToolTip("")
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw it as large as fits."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        place = _PLACES[self._view]
        shown = place.shown.adjusted(-_EDGE_M, -_EDGE_M, _EDGE_M, _EDGE_M)
        scale = min(self.width() / shown.width(), self.height() / shown.height())
        painter.translate(self.width() / 2, self.height() / 2)
        painter.scale(scale, scale)
        painter.translate(-shown.center())
        _draw_free(painter, scale)
        _draw_sight(painter, place)
        _draw_belt(painter, scale)
        _draw_runner(painter)
        _draw_laptop(painter, place, scale)
        painter.resetTransform()
        self._write(painter, shown, scale, place)
        painter.end()

    def _write(self, painter: QPainter, shown: QRectF, scale: float, place: _Place) -> None:
        """The words, in letters of one size whatever the scale."""

        def at(x: float, y: float) -> QPointF:
            middle = QPointF(self.width() / 2, self.height() / 2)
            return middle + (QPointF(x, y) - shown.center()) * scale

        painter.setFont(font(min(20.0, max(12.0, self.height() * 0.045)), bold=True))
        painter.setPen(QColor(palette.LABEL.colour))
        centred = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
        room = QRectF(at(_FREE_M.left(), _FREE_M.top()), at(_FREE_M.right(), _FREE_M.bottom()))
        painter.drawText(room, int(centred), _("Keep free\n2 m × 1 m"))  # noqa: RUF001
        if self._view is View.SIDE:
            painter.setPen(QColor(palette.LINE.colour))
            half = QRectF(at(-1.9, 1.25), at(0.05, 1.85))
            painter.drawText(half, int(centred), _("2 to 4 m"))
        painter.setPen(QColor(palette.LINE.colour))
        box = QRectF(at(place.x - 1.0, place.y + 0.22), at(place.x + 1.0, place.y + 0.62))
        painter.drawText(box, int(centred), _("Laptop"))


def words_of(view: View) -> str:
    """The picture in words."""
    match view:
        case View.SIDE:
            return _("Seen from above: the laptop stands beside the belt, a little ahead of you.")
        case View.BEHIND:
            return _("Seen from above: the laptop stands behind the belt and the free space.")
        case View.FRONT:
            return _("Seen from above: the laptop stands in front of the belt.")


def _draw_free(painter: QPainter, scale: float) -> None:
    pen = QPen(QColor(palette.NOTE.colour), 2.0 / scale, Qt.PenStyle.DashLine)
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(_FREE_M)


def _draw_belt(painter: QPainter, scale: float) -> None:
    painter.setPen(QPen(QColor(palette.RAIL.colour), 3.0 / scale))
    painter.setBrush(QColor(palette.PLATE_TEXT.on))
    painter.drawRoundedRect(_BELT_M, 0.06, 0.06)
    # Which way the runner faces: an arrow ahead of the belt.
    painter.setPen(QPen(QColor(palette.LINE.colour), 3.0 / scale))
    painter.drawLine(QLineF(0.38, 0.0, 0.72, 0.0))
    painter.setBrush(QColor(palette.LINE.colour))
    painter.drawPolygon(QPolygonF([QPointF(0.8, 0), QPointF(0.66, 0.08), QPointF(0.66, -0.08)]))


def _draw_runner(painter: QPainter) -> None:
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(palette.BAND_EDGE.colour))
    painter.drawEllipse(QPointF(0, 0), *_SHOULDERS_M)
    painter.setBrush(QColor(palette.LINE.colour))
    painter.drawEllipse(QPointF(0.03, 0), _HEAD_M, _HEAD_M)


def _draw_sight(painter: QPainter, place: _Place) -> None:
    """What the laptop sees: a faint wedge toward the runner."""
    toward = math.atan2(-place.y, -place.x)
    far = math.hypot(place.x, place.y) + 0.5
    half = math.radians(_SEES_DEGREES) / 2
    wedge = QPainterPath(QPointF(place.x, place.y))
    for turn in (-half, half):
        wedge.lineTo(
            place.x + far * math.cos(toward + turn), place.y + far * math.sin(toward + turn)
        )
    wedge.closeSubpath()
    colour = QColor(palette.BAND_EDGE.colour)
    colour.setAlpha(60)
    painter.fillPath(wedge, colour)


def _draw_laptop(painter: QPainter, place: _Place, scale: float) -> None:
    """Its screen and its keys; it looks at the runner, and so can the runner at it."""
    painter.save()
    painter.translate(place.x, place.y)
    painter.rotate(math.degrees(math.atan2(-place.y, -place.x)) + 90)
    wide, deep = _LAPTOP_M
    painter.setPen(QPen(QColor(palette.LINE.colour), 2.5 / scale))
    painter.setBrush(QColor(palette.PLATE_TEXT.on))
    painter.drawRoundedRect(QRectF(-wide / 2, -deep, wide, deep), 0.03, 0.03)
    painter.setPen(QPen(QColor(palette.LINE.colour), 6.0 / scale))
    painter.drawLine(QLineF(-wide / 2, 0, wide / 2, 0))
    painter.restore()
