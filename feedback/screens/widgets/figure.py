"""Draws what was found in a camera picture: the body's lines, feet that met or left the belt."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from PyQt6.QtCore import QLineF, QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPen, QPolygonF

from feedback.screens.widgets import palette
from feedback.screens.widgets.palette import Ink
from shared.flow import EventKind, Side
from shared.landmarks import BONES, Landmark
from shared.pictures import Mark

SHOWN_NS: Final = 200_000_000
"""So long after it happened a mark stands at its foot."""
_RIM_PX: Final = 2.0
_FEET: Final = {
    (Side.LEFT, EventKind.CONTACT): Landmark.LEFT_HEEL,
    (Side.LEFT, EventKind.TOE_OFF): Landmark.LEFT_FOOT_INDEX,
    (Side.RIGHT, EventKind.CONTACT): Landmark.RIGHT_HEEL,
    (Side.RIGHT, EventKind.TOE_OFF): Landmark.RIGHT_FOOT_INDEX,
}
LIMBS: Final[dict[Side | None, Ink]] = {
    None: palette.MIDDLE_LIMB,
    Side.LEFT: palette.LEFT_LIMB,
    Side.RIGHT: palette.RIGHT_LIMB,
}


def side_of(one: Landmark, other: Landmark) -> Side | None:
    """The side of a line between two landmarks; None for one that goes across."""
    sides = {Side.LEFT if mark.name.startswith("LEFT") else Side.RIGHT for mark in (one, other)}
    return sides.pop() if len(sides) == 1 else None


def point_of(xy: Sequence[float], landmark: Landmark, place: QRectF) -> QPointF | None:
    """Where a landmark lies in ``place``; None where it is not known."""
    x, y = xy[2 * landmark], xy[2 * landmark + 1]
    if x < 0 or y < 0:
        return None
    return QPointF(place.x() + x * place.width(), place.y() + y * place.height())


def draw_body(
    painter: QPainter, xy: Sequence[float], place: QRectF, width_px: float | None = None
) -> None:
    """Join the landmarks (66 shares of the picture, -1 for unknown) by lines.

    Left is orange and solid, right is blue and dashed; each line is rimmed with black. Without
    ``width_px`` they are as wide as suits a picture of this height.
    """
    lines: dict[Side | None, list[QLineF]] = {None: [], Side.LEFT: [], Side.RIGHT: []}
    for one, other in BONES:
        start, end = point_of(xy, one, place), point_of(xy, other, place)
        if start is not None and end is not None:
            lines[side_of(one, other)].append(QLineF(start, end))
    width = max(2.0, place.height() / 180) if width_px is None else width_px
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(_pen(palette.MIDDLE_LIMB.on, width + 2 * _RIM_PX))
    for group in lines.values():
        if group:
            painter.drawLines(*group)
    for side, group in lines.items():
        pen = _pen(LIMBS[side].colour, width)
        if side is Side.RIGHT:
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            pen.setDashPattern([2.5, 1.5])
        painter.setPen(pen)
        if group:
            painter.drawLines(*group)


def draw_feet(
    painter: QPainter,
    xy: Sequence[float],
    marks: Iterable[Mark],
    captured_ns: int,
    place: QRectF,
) -> None:
    """A mark at each heel that has just met the belt, and at toes that have just left it."""
    size = max(7.0, place.height() / 45)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for mark in marks:
        at = point_of(xy, _FEET[mark.side, mark.kind], place)
        if at is not None and 0 <= captured_ns - mark.at_ns <= SHOWN_NS:
            draw_mark(painter, mark, at, size)


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a foot met the belt, and where the hips were: shares of the picture."""

    side: Side
    hips: tuple[float, float]
    foot: tuple[float, float]


def landing_of(xy: Sequence[float], side: Side) -> Landing | None:
    """The landing that a body shows at contact; None where hips or foot are not known."""
    names = (
        (Landmark.LEFT_HIP, Landmark.RIGHT_HIP),
        (Landmark.LEFT_ANKLE, Landmark.LEFT_HEEL)
        if side is Side.LEFT
        else (Landmark.RIGHT_ANKLE, Landmark.RIGHT_HEEL),
    )
    found = [[(xy[2 * mark], xy[2 * mark + 1]) for mark in pair] for pair in names]
    if any(x < 0 or y < 0 for pair in found for x, y in pair):
        return None
    (one, other), (ankle, heel) = found
    hips = ((one[0] + other[0]) / 2, (one[1] + other[1]) / 2)
    return Landing(side, hips, (ankle[0], max(ankle[1], heel[1])))


def draw_landing(painter: QPainter, landing: Landing, place: QRectF) -> None:
    """A plumb line from the hips to the belt, and at its foot how far from it the ankle landed.

    The side's colour, and dashed on the right, as its limbs are.
    """

    def at(x: float, y: float) -> QPointF:
        return QPointF(place.x() + x * place.width(), place.y() + y * place.height())

    # each side at a height of its own, so that neither hides the other
    low = landing.foot[1] + (0.02 if landing.side is Side.LEFT else 0.05)
    hips, below = at(*landing.hips), at(landing.hips[0], low)
    ankle, foot = at(landing.foot[0], landing.foot[1] - 0.02), at(landing.foot[0], low)
    ink, tick = LIMBS[landing.side], max(4.0, place.height() / 60)
    thin, thick = max(1.5, place.height() / 320), max(2.5, place.height() / 140)
    plumb = [QLineF(hips, below), QLineF(ankle, foot)]
    bar = [
        QLineF(below, foot),
        QLineF(below - QPointF(0, tick), below + QPointF(0, tick)),
        QLineF(foot - QPointF(0, tick), foot + QPointF(0, tick)),
    ]
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    for lines, wide in ((plumb, thin), (bar, thick)):
        painter.setPen(_pen(ink.on, wide + 2 * _RIM_PX))
        painter.drawLines(*lines)
        pen = _pen(ink.colour, wide)
        if landing.side is Side.RIGHT:
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            pen.setDashPattern([2.5, 1.5])
        painter.setPen(pen)
        painter.drawLines(*lines)


def draw_mark(painter: QPainter, mark: Mark, at: QPointF, size: float) -> None:
    """Contact: filled, its point down on the belt. Toe-off: open, its point up."""
    way = 1.0 if mark.kind is EventKind.CONTACT else -1.0
    shape = QPolygonF(
        [
            QPointF(at.x(), at.y() + way * size * 0.6),
            QPointF(at.x() - size * 0.7, at.y() - way * size * 0.6),
            QPointF(at.x() + size * 0.7, at.y() - way * size * 0.6),
        ]
    )
    ink = LIMBS[mark.side]
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(_pen(ink.on, 2 + 2 * _RIM_PX))
    painter.drawPolygon(shape)
    painter.setPen(_pen(ink.colour, 2))
    if mark.kind is EventKind.CONTACT:
        painter.setBrush(QColor(ink.colour))
    painter.drawPolygon(shape)


def _pen(colour: str, width: float) -> QPen:
    pen = QPen(QColor(colour), width)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen
