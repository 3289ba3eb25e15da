"""Icons of our own: each a few strokes on a square of 24, drawn at any size in any colour."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from feedback.screens.widgets import palette
from feedback.screens.widgets.design import ICON_PX

_SQUARE: Final = 24.0
_STROKE: Final = 2.0
_SHARPEST: Final = 3
"""Drawn as large as a display with so many device pixels a pixel needs."""


def _lines(*rows: tuple[tuple[float, float], ...]) -> QPainterPath:
    path = QPainterPath()
    for row in rows:
        path.addPolygon(QPolygonF([QPointF(*at) for at in row]))
    return path


def _round(x: float, y: float, radius: float) -> QPainterPath:
    path = QPainterPath()
    path.addEllipse(QPointF(x, y), radius, radius)
    return path


def _box(x: float, y: float, wide: float, high: float, corner: float = 1.5) -> QPainterPath:
    path = QPainterPath()
    path.addRoundedRect(QRectF(x, y, wide, high), corner, corner)
    return path


def _arc(x: float, y: float, radius: float, start: float, sweep: float) -> QPainterPath:
    """Part of a circle; degrees against the clock from three o'clock."""
    place = QRectF(x - radius, y - radius, 2 * radius, 2 * radius)
    path = QPainterPath()
    path.arcMoveTo(place, start)
    path.arcTo(place, start, sweep)
    return path


def _sum(*paths: QPainterPath) -> QPainterPath:
    whole = QPainterPath()
    for path in paths:
        whole.addPath(path)
    return whole


def _loudspeaker() -> QPainterPath:
    cone = _lines(((4, 9.5), (7.5, 9.5), (12, 5.5), (12, 18.5), (7.5, 14.5), (4, 14.5), (4, 9.5)))
    return _sum(cone, _arc(12, 12, 4.2, -42, 84), _arc(12, 12, 8, -42, 84))


def _quiet() -> QPainterPath:
    cone = _lines(((4, 9.5), (7.5, 9.5), (12, 5.5), (12, 18.5), (7.5, 14.5), (4, 14.5), (4, 9.5)))
    return _sum(cone, _arc(12, 12, 4.2, -42, 84))


def _runner() -> QPainterPath:
    return _sum(
        _round(14.5, 4.6, 2.1),
        _lines(
            ((13, 8.5), (11, 14), (14.5, 16.5), (13.5, 21)),
            ((11, 14), (8.8, 17.6), (4.5, 17.2)),
            ((8, 12.4), (9, 9.3), (13, 8.5), (15.6, 11.6), (18.8, 11)),
        ),
    )


def _camera() -> QPainterPath:
    return _sum(_box(3, 7, 12.5, 10.5), _lines(((15.5, 11), (21, 8), (21, 16.5), (15.5, 13.5))))


def _folder() -> QPainterPath:
    return _lines(((3, 19), (3, 5.5), (9.5, 5.5), (11.5, 8), (21, 8), (21, 19), (3, 19)))


def _gear() -> QPainterPath:
    teeth = _lines(
        ((12, 2.8), (12, 5.5)),
        ((12, 18.5), (12, 21.2)),
        ((2.8, 12), (5.5, 12)),
        ((18.5, 12), (21.2, 12)),
        ((5.5, 5.5), (7.4, 7.4)),
        ((16.6, 16.6), (18.5, 18.5)),
        ((5.5, 18.5), (7.4, 16.6)),
        ((16.6, 7.4), (18.5, 5.5)),
    )
    return _sum(teeth, _round(12, 12, 6.4), _round(12, 12, 2.4))


def _hand() -> QPainterPath:
    return _lines(
        (
            (7, 20.5), (4.2, 13.5), (5.6, 12.6), (7.6, 15), (7.6, 6.4), (9.4, 6.4), (9.7, 11.5),
            (9.9, 4.2), (11.8, 4.2), (12, 11.5), (12.5, 4.8), (14.3, 4.9), (14.3, 11.8),
            (15.2, 7.2), (17, 7.5), (16.6, 15.5), (14.8, 20.5), (7, 20.5),
        )
    )  # fmt: skip


def _key() -> QPainterPath:
    """The treadmill's safety key on its cord, with the clip."""
    return _sum(
        _box(14.5, 4, 6, 5.5), _arc(11, 9.5, 6.5, 30, -195), _lines(((2.6, 9), (6.6, 9), (4.6, 13)))
    )


_PATHS: Final[dict[str, tuple[Callable[[], QPainterPath], bool]]] = {
    # name: what is drawn, and whether it is filled
    "stop": (lambda: _box(5.5, 5.5, 13, 13), True),
    "pause": (lambda: _sum(_box(6, 5, 4, 14, 1), _box(14, 5, 4, 14, 1)), True),
    "go_on": (lambda: _lines(((7, 4.5), (19, 12), (7, 19.5), (7, 4.5))), True),
    "next": (lambda: _sum(_lines(((9, 5), (16, 12), (9, 19)))), False),
    "back": (lambda: _sum(_lines(((15, 5), (8, 12), (15, 19)))), False),
    "skip": (lambda: _lines(((5, 5), (14, 12), (5, 19), (5, 5)), ((18, 5), (18, 19))), False),
    "replay": (
        lambda: _sum(_arc(12, 12.5, 7.5, 125, 290), _lines(((8.5, 2.8), (7.3, 6.6), (11.2, 7.6)))),
        False,
    ),
    "plus": (lambda: _lines(((12, 5), (12, 19)), ((5, 12), (19, 12))), False),
    "minus": (lambda: _lines(((5, 12), (19, 12))), False),
    "check": (lambda: _lines(((4.5, 12.5), (9.8, 18), (19.5, 6.5))), False),
    "warning": (
        lambda: _lines(
            ((12, 3.5), (22, 20.5), (2, 20.5), (12, 3.5)),
            ((12, 9.5), (12, 14)),
            ((12, 17), (12, 17.2)),
        ),
        False,
    ),
    "loud": (_loudspeaker, False),
    "quiet": (_quiet, False),
    "runner": (_runner, False),
    "person": (lambda: _sum(_round(12, 7.5, 3.8), _arc(12, 21, 8, 0, 180)), False),
    "camera": (_camera, False),
    "note": (lambda: _lines(((4, 20), (5, 15.5), (16, 4.5), (19.5, 8), (8.5, 19), (4, 20))), False),
    "folder": (_folder, False),
    "page": (
        lambda: _lines(
            ((6, 3), (14, 3), (18.5, 7.5), (18.5, 21), (6, 21), (6, 3)),
            ((9, 12), (15.5, 12)),
            ((9, 16), (15.5, 16)),
        ),
        False,
    ),
    "print": (
        lambda: _sum(_box(3, 9, 18, 8), _lines(((7, 9), (7, 3.5), (17, 3.5), (17, 9)))),
        False,
    ),
    "chart": (
        lambda: _lines(((4, 4), (4, 20), (20, 20)), ((7, 15.5), (11, 10), (14.5, 13), (19.5, 6))),
        False,
    ),
    "gear": (_gear, False),
    "search": (lambda: _sum(_round(10.5, 10.5, 6), _lines(((15, 15), (20.5, 20.5)))), False),
    "help": (
        lambda: _sum(
            _arc(12, 8.6, 4.4, 170, -215),
            _lines(((15, 11.8), (12, 14), (12, 15.6)), ((12, 19.4), (12, 19.6))),
        ),
        False,
    ),
    "home": (
        lambda: _lines(((3, 11.5), (12, 4), (21, 11.5)), ((6, 9.5), (6, 20), (18, 20), (18, 9.5))),
        False,
    ),
    "hand": (_hand, False),
    "key": (_key, False),
    "close": (lambda: _lines(((5.5, 5.5), (18.5, 18.5)), ((18.5, 5.5), (5.5, 18.5))), False),
    "details": (lambda: _lines(((5, 9), (12, 16), (19, 9))), False),
    "plug": (
        lambda: _sum(
            _box(6, 9, 12, 7), _lines(((9, 4), (9, 9)), ((15, 4), (15, 9)), ((12, 16), (12, 21)))
        ),
        False,
    ),
}  # fmt: skip

ICONS: Final = tuple(_PATHS)
"""Their names."""


def draw_icon(painter: QPainter, name: str, place: QRectF, colour: str) -> None:
    """Draw the icon ``name`` as large as fits in the middle of ``place``."""
    make, filled = _PATHS[name]
    size = min(place.width(), place.height())
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(place.center() - QPointF(size / 2, size / 2))
    painter.scale(size / _SQUARE, size / _SQUARE)
    pen = QPen(QColor(colour), _STROKE)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(QColor(colour) if filled else Qt.BrushStyle.NoBrush)
    painter.drawPath(make())
    painter.restore()


def picture_of(name: str, colour: str, px: int = ICON_PX) -> QPixmap:
    """The icon ``name`` alone, sharp on dense displays too."""
    made = QPixmap(QSize(px, px) * _SHARPEST)
    made.setDevicePixelRatio(_SHARPEST)
    made.fill(QColor(0, 0, 0, 0))
    painter = QPainter(made)
    draw_icon(painter, name, QRectF(0, 0, px, px), colour)
    painter.end()
    return made


def icon(name: str, px: int = ICON_PX, ink: palette.Ink = palette.PLATE_TEXT) -> QIcon:
    """The icon ``name`` for a button: in the colour of its text, and paler while it is off."""
    made = QIcon()
    made.addPixmap(picture_of(name, ink.colour, px), QIcon.Mode.Normal)
    made.addPixmap(picture_of(name, palette.PLATE_OFF.colour, px), QIcon.Mode.Disabled)
    return made
