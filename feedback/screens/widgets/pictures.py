"""Pictures of our own for pages: where things stand round a treadmill, and what a page is about."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPen, QPolygonF

from feedback.screens.widgets import palette
from feedback.screens.widgets.icons import ICONS, draw_icon
from feedback.screens.widgets.palette import Ink

_SIDE: Final = 100.0
"""Pictures are drawn on a square of 100."""
_LINE: Final = 1.6


def draw_picture(painter: QPainter, name: str, place: QRectF) -> None:
    """Draw the picture ``name``, or the icon of that name, as large as fits in ``place``."""
    size = min(place.width(), place.height())
    if name in ICONS:
        inner = QRectF(0, 0, 0.62 * size, 0.62 * size)
        inner.moveCenter(place.center())
        draw_icon(painter, name, inner, palette.LABEL.colour)
        return
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(place.center() - QPointF(size / 2, size / 2))
    painter.scale(size / _SIDE, size / _SIDE)
    _SCENES[name](painter)
    painter.restore()


def _pen(painter: QPainter, ink: Ink, wide: float = _LINE, *, dashed: bool = False) -> None:
    pen = QPen(QColor(ink.colour), wide)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap if dashed else Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if dashed:
        pen.setDashPattern([3.0, 2.2])
    painter.setPen(pen)
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _row(painter: QPainter, *points: tuple[float, float]) -> None:
    painter.drawPolyline(QPolygonF([QPointF(*at) for at in points]))


def _from_above(painter: QPainter, x: float, y: float) -> None:
    """A treadmill of 20 by 36 from above at x, y; the runner on it runs up the picture."""
    _pen(painter, palette.LABEL)
    painter.drawRoundedRect(QRectF(x, y, 20, 36), 2, 2)
    _row(painter, (x + 2, y + 4), (x + 18, y + 4))
    _pen(painter, palette.RAIL, dashed=True)
    painter.drawRect(QRectF(x - 3, y + 37.5, 26, 20))  # kept free
    _pen(painter, palette.NUMBER, 2.2)
    painter.drawEllipse(QPointF(x + 10, y + 17), 3.2, 3.2)
    _row(painter, (x + 4, y + 18.5), (x + 16, y + 18.5))
    _row(painter, (x + 10, y + 12), (x + 10, y + 8))
    _row(painter, (x + 7.8, y + 10.2), (x + 10, y + 8), (x + 12.2, y + 10.2))


def _laptop(painter: QPainter, x: float, y: float, degrees: float) -> None:
    """A laptop from above with what its camera sees; at 0 degrees it looks up the picture."""
    painter.save()
    painter.translate(x, y)
    painter.rotate(degrees)
    _pen(painter, palette.BAND_EDGE, 1.0, dashed=True)
    _row(painter, (0, -4), (-11, -32))
    _row(painter, (0, -4), (11, -32))
    _pen(painter, palette.BAND_EDGE, 2.2)
    painter.drawRoundedRect(QRectF(-6.5, -3.5, 13, 9), 1.2, 1.2)
    _row(painter, (-6.5, -3.5), (6.5, -3.5))
    painter.setBrush(QColor(palette.BAND_EDGE.colour))
    painter.drawEllipse(QPointF(0, -3.5), 1.1, 1.1)
    painter.restore()


def _camera_side(painter: QPainter) -> None:
    _from_above(painter, 62, 26)
    # turned a little towards the runner's front
    _laptop(painter, 20, 34, 79)


def _camera_behind(painter: QPainter) -> None:
    _from_above(painter, 40, 4)
    _laptop(painter, 50, 84, 0)


def _camera_front(painter: QPainter) -> None:
    _from_above(painter, 40, 38)
    _laptop(painter, 50, 8, 180)


def _cautions(painter: QPainter) -> None:
    """From the side: runner and safety key on its cord, and the space behind that is kept free."""
    _pen(painter, palette.LABEL)
    painter.drawRoundedRect(QRectF(36, 74, 58, 7), 2, 2)
    _row(painter, (84, 74), (88, 36), (79, 36))
    _pen(painter, palette.RAIL, dashed=True)
    painter.drawRect(QRectF(5, 58, 29, 23))
    _pen(painter, palette.RAIL, 1.2)
    _row(painter, (8, 86), (31, 86))
    _row(painter, (10.5, 84), (8, 86), (10.5, 88))
    _row(painter, (28.5, 84), (31, 86), (28.5, 88))
    _pen(painter, palette.NUMBER, 2.6)
    painter.drawEllipse(QPointF(62, 22), 5, 5)
    _row(painter, (60.5, 29), (57.5, 49))
    _row(painter, (57.5, 49), (66, 59), (65, 73), (69, 73))
    _row(painter, (57.5, 49), (52, 61), (42, 62), (40.5, 65))
    _row(painter, (48, 44), (53, 35), (60.5, 31.5), (66, 40), (73, 37))
    _pen(painter, palette.NOTE, 1.8)
    _row(painter, (59.5, 40), (64, 52), (75, 51), (83, 40))
    painter.setBrush(QColor(palette.NOTE.colour))
    painter.drawRoundedRect(QRectF(81, 37, 6, 4.5), 1, 1)
    painter.drawEllipse(QPointF(59.3, 39.5), 1.8, 1.8)


def _scale(painter: QPainter) -> None:
    """Bars that grow: from none to most."""
    for number in range(11):
        high = 6 + 5.2 * number
        place = QRectF(8 + 7.8 * number, 76 - high, 5.4, high)
        painter.fillRect(place, QColor(palette.BAND_EDGE.colour))
    _pen(painter, palette.LABEL)
    _row(painter, (5, 78.5), (95, 78.5))


def _send(painter: QPainter) -> None:
    """A page that goes out by mail."""
    _pen(painter, palette.LABEL, 2.2)
    painter.drawRoundedRect(QRectF(12, 42, 56, 38), 3, 3)
    _row(painter, (12, 45), (40, 64), (68, 45))
    _pen(painter, palette.BAND_EDGE, 3.0)
    _row(painter, (60, 32), (88, 32))
    _row(painter, (78, 22), (88, 32), (78, 42))


def _fetch(painter: QPainter) -> None:
    """Something comes down onto this computer."""
    _pen(painter, palette.BAND_EDGE, 3.0)
    _row(painter, (50, 14), (50, 46))
    _row(painter, (40, 36), (50, 46), (60, 36))
    _pen(painter, palette.LABEL, 2.2)
    painter.drawRoundedRect(QRectF(24, 52, 52, 28), 3, 3)
    _row(painter, (14, 86), (86, 86))


_SCENES: Final[dict[str, Callable[[QPainter], None]]] = {
    "camera_side": _camera_side,
    "camera_behind": _camera_behind,
    "camera_front": _camera_front,
    "cautions": _cautions,
    "scale": _scale,
    "send": _send,
    "fetch": _fetch,
}
PICTURES: Final = (*_SCENES, *ICONS)
"""Their names."""
