"""Draws one picture of the runner's screen: what is shown, in the places of the layout."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPainterPath, QPen, QPolygonF

from feedback.screens.runner.gauge import Gauge
from feedback.screens.runner.layout import NUMBER_ROOM, Places
from feedback.screens.runner.model import RunnerPage, Showing
from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import Fitted, draw, fit, width
from feedback.screens.widgets.pictures import draw_picture
from feedback.screens.widgets.text_box import Box, block_height
from shared.flow import BandState

LEFT: Final = Qt.AlignmentFlag.AlignLeft
RIGHT: Final = Qt.AlignmentFlag.AlignRight
_MIDDLE: Final = Qt.AlignmentFlag.AlignHCenter
OUTSIDE: Final = frozenset({BandState.BELOW, BandState.ABOVE})
_UNIT_GAP: Final = 0.3
"""Between the number and its unit, in heights of the digits."""
_LEAST_UNIT: Final = 0.26
"""Height of the unit's capitals at least, in heights of the digits."""
_PICTURE_SHARES: Final = (0.32, 0.28, 0.24, 0.2, 0.17, 0.14, 0.12)
"""Widths that a picture may have, in widths of the window, the best first."""
_ATTACHED: Final = frozenset({"°"})
"""Units that are written at the number itself, at its size."""


def paint(painter: QPainter, places: Places, showing: Showing) -> None:
    """Draw everything but the button."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setRenderHint(QPainter.RenderHint.TextAntialiasing)
    if showing.asks:
        box, cap_px = places.title, places.line_cap_px
        asked = fit(showing.title, box.width, box.height, cap_px, 1, bold=True)
        draw(painter, asked, box, palette.LINE.colour, LEFT)
    else:
        _label(painter, showing.title, places.title, places.label_cap_px, LEFT)
    _label(painter, showing.clock, places.clock, places.label_cap_px, RIGHT)
    _corner(painter, showing, places)
    if showing.page is RunnerPage.VALUE:
        _number(painter, showing, places)
        if showing.gauge is not None:
            _gauge(painter, showing.gauge, places)
        box = places.line
        line = fit(showing.line, box.width, box.height, places.line_cap_px, 2, bold=True)
        draw(painter, line, box, palette.LINE.colour)
    else:
        rows = message_rows(showing, places)
        align = LEFT if showing.page is RunnerPage.READY else _MIDDLE
        for fitted, message_ink, box in rows:
            draw(painter, fitted, box, message_ink.colour, align)
        at = picture_place(rows, places) if showing.page is RunnerPage.READY else None
        if at is not None:
            draw_picture(painter, "cautions", at)


def number_cap_px(showing: Showing, places: Places) -> float:
    """Height of the digits that :func:`paint` will draw."""
    return _set_number(showing, places)[0].cap_px


def _label(painter: QPainter, text: str, box: Box, cap_px: float, align: Qt.AlignmentFlag) -> None:
    if text:
        draw(painter, fit(text, box.width, box.height, cap_px, 1), box, palette.LABEL.colour, align)


def _corner(painter: QPainter, showing: Showing, places: Places) -> None:
    """The demo note and a problem that leaves the values good, one above the other."""
    texts = [
        (text, ink)
        for text, ink in ((showing.demo, palette.LABEL), (showing.note, palette.NOTE))
        if text
    ]
    box = places.note
    share = box.height / max(len(texts), 1)
    for index, (text, ink) in enumerate(texts):
        place = Box(box.x, box.y + index * share, box.width, share)
        cap_px = min(places.label_cap_px, 0.58 * share)
        draw(painter, fit(text, place.width, share, cap_px, 2), place, ink.colour, LEFT)


def _set_number(showing: Showing, places: Places) -> tuple[Fitted, float]:
    """The digits, and the height of the unit's capitals; side by side they fit the place."""
    box = places.number
    attached = showing.unit in _ATTACHED
    text = showing.number + (showing.unit if attached else "")
    # digits have no descenders, so they may fill their place
    room = block_height(1) * box.height / NUMBER_ROOM
    widest = (showing.widest or showing.number) + (showing.unit if attached else "")
    if width(text, 1.0, bold=True) > width(widest, 1.0, bold=True):
        widest = text
    digits = fit(widest, box.width, room, places.number_cap_px, 1, bold=True)
    unit_cap = max(_LEAST_UNIT * digits.cap_px, min(places.line_cap_px, 0.4 * digits.cap_px))
    if not showing.unit or attached:
        return digits, unit_cap
    whole = digits.width + _UNIT_GAP * digits.cap_px + width(showing.unit, unit_cap)
    if whole > box.width:  # the unit gives way first
        unit_cap = _LEAST_UNIT * digits.cap_px
        whole = digits.width + _UNIT_GAP * digits.cap_px + width(showing.unit, unit_cap)
    shrink = min(1.0, box.width / whole)
    return Fitted(digits.rows, digits.cap_px * shrink, bold=True), unit_cap * shrink


def _number(painter: QPainter, showing: Showing, places: Places) -> None:
    digits, unit_cap = _set_number(showing, places)
    box = places.number
    ink = palette.NUMBER_OUTSIDE if showing.state in OUTSIDE else palette.NUMBER
    attached = showing.unit in _ATTACHED
    text = showing.number + (showing.unit if attached else "")
    # a dash stands for any digits
    side = RIGHT if any(letter.isdigit() for letter in text) else _MIDDLE
    shown = Fitted((text,), digits.cap_px, bold=True)
    if not showing.unit or attached:
        start = box.x + (box.width - digits.width) / 2
        draw(painter, shown, Box(start, box.y, digits.width, box.height), ink.colour, side)
        return
    unit = Fitted((showing.unit,), unit_cap, bold=False)
    gap = _UNIT_GAP * digits.cap_px
    start = box.x + (box.width - digits.width - gap - unit.width) / 2
    draw(painter, shown, Box(start, box.y, digits.width, box.height), ink.colour, side)
    baseline = box.y + (box.height + digits.cap_px) / 2
    place = Box(start + digits.width + gap, baseline - unit_cap, unit.width, unit_cap)
    draw(painter, unit, place, palette.LABEL.colour)


def _gauge(painter: QPainter, gauge: Gauge, places: Places) -> None:
    box = places.gauge
    lane = Box(box.x, box.y + 0.27 * box.height, box.width, 0.36 * box.height)
    inset = 0.06 * box.width
    start, length = box.x + inset, box.width - 2 * inset
    middle = lane.y + lane.height / 2
    left, right = start + gauge.low * length, start + gauge.high * length
    rail = 0.08 * lane.height
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(QColor(palette.RAIL.colour))
    painter.drawRoundedRect(QRectF(start, middle - rail / 2, length, rail), rail / 2, rail / 2)
    painter.setBrush(QColor(palette.BAND.colour))
    half = 0.4 * lane.height
    painter.drawRect(QRectF(left, middle - half, right - left, 2 * half))
    edge = max(2.0, 0.07 * lane.height)
    below = Box(box.x, lane.bottom, box.width, box.bottom - lane.bottom)
    cap_px = min(places.label_cap_px, 0.7 * below.height)
    ends = ((gauge.start_text, LEFT, 0.0), (gauge.end_text, RIGHT, 0.81 * box.width))
    for text, side, at in ends:
        if text:
            place = Box(below.x + at, below.y, 0.19 * box.width, below.height)
            row = fit(text, place.width, place.height, cap_px, 1)
            draw(painter, row, place, palette.LABEL.colour, side)
    if gauge.own is not None:
        _own(painter, gauge, Box(start, box.y, length, lane.bottom - box.y), lane, cap_px)
    for at, text in ((left, gauge.low_text), (right, gauge.high_text)):
        if text:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(palette.BAND_EDGE.colour))
            painter.drawRect(QRectF(at - edge / 2, lane.y, edge, lane.height))
            room = Box(at - 0.12 * box.width, below.y, 0.24 * box.width, below.height)
            draw(painter, fit(text, room.width, room.height, cap_px, 1), room, palette.LABEL.colour)
    if gauge.marker is not None:
        _marker(painter, QPointF(start + gauge.marker * length, middle), lane.height, gauge.state)


def _own(painter: QPainter, gauge: Gauge, box: Box, lane: Box, cap_px: float) -> None:
    """The runner's usual value: a line across the lane with its value over it."""
    if gauge.own is None:
        return
    at = box.x + gauge.own * box.width
    pen = QPen(QColor(palette.OWN_MARK.colour), max(2.0, 0.05 * lane.height))
    pen.setDashPattern([2.0, 1.6])
    painter.setPen(pen)
    painter.drawLine(QPointF(at, lane.y), QPointF(at, lane.bottom))
    painter.setPen(Qt.PenStyle.NoPen)
    wide = 0.3 * box.width
    x = min(max(at - wide / 2, box.x), box.x + box.width - wide)
    side = LEFT if x > at - wide / 2 else RIGHT if x < at - wide / 2 else _MIDDLE
    place = Box(x, box.y, wide, lane.y - box.y)
    row = fit(gauge.own_text, place.width, place.height, min(cap_px, 0.75 * place.height), 1)
    draw(painter, row, place, palette.LABEL.colour, side)


def _marker(painter: QPainter, at: QPointF, height: float, state: BandState) -> None:
    """A disc in the band; outside, a wedge that points to it."""
    shape = QPainterPath()
    if state in OUTSIDE:
        size = 0.48 * height
        way = 1.0 if state is BandState.BELOW else -1.0
        shape.addPolygon(
            QPolygonF(
                [
                    QPointF(at.x() + way * size, at.y()),
                    QPointF(at.x() - way * 0.7 * size, at.y() - size),
                    QPointF(at.x() - way * 0.7 * size, at.y() + size),
                ]
            )
        )
        shape.closeSubpath()
        ink = palette.MARKER_OUTSIDE
    else:
        shape.addEllipse(at, 0.3 * height, 0.3 * height)
        ink = palette.MARKER_INSIDE
    painter.setPen(QPen(QColor(palette.ground()), max(1.5, 0.06 * height)))
    painter.setBrush(QColor(ink.colour))
    painter.drawPath(shape)


def message_rows(showing: Showing, places: Places) -> list[tuple[Fitted, palette.Ink, Box]]:
    """The heading and the texts, each as it is set, its colour, and its place.

    One under the other, in the middle; all shrink alike to fit.
    """
    wanted = [(showing.heading, 1.3 * places.line_cap_px, palette.NUMBER, True)]
    wanted += [(text, places.line_cap_px, palette.LABEL, False) for text in showing.texts]
    wanted += [(text, places.read_cap_px, palette.LABEL, False) for text in showing.small_print]
    box = places.message
    if not showing.title and not showing.clock:
        box = Box(box.x, places.title.y, box.width, box.bottom - places.title.y)
    aside, above = 0.04 * box.width, 0.02 * box.height
    box = Box(box.x + aside, box.y + above, box.width - 2 * aside, box.height - 2 * above)
    scale = 1.0
    while True:
        blocks = [
            (fit(text, box.width, box.height, scale * cap, 4, bold=bold), ink)
            for text, cap, ink, bold in wanted
        ]
        # the small print stands apart from what is above it
        gaps = [0.7 * scale * cap for _, cap, _, _ in wanted[:-1]]
        total = sum(fitted.height for fitted, _ in blocks) + sum(gaps)
        if total <= box.height or scale < 0.05:
            break
        scale *= 0.94
    y = box.y + (box.height - total) / 2
    rows = []
    for (fitted, ink), gap in zip(blocks, [*gaps, 0.0], strict=True):
        rows.append((fitted, ink, Box(box.x, y, box.width, fitted.height)))
        y += fitted.height + gap
    return rows


def picture_place(rows: Sequence[tuple[Fitted, palette.Ink, Box]], places: Places) -> QRectF | None:
    """The largest place for a picture in the upper right corner, beside rows that leave it free."""
    box = places.message
    top, right = places.title.y, box.right
    for share in _PICTURE_SHARES:
        side = share * box.width
        at = QRectF(right - side, top, side, side)
        beside = [place for _, _, place in rows if place.y < at.bottom() + 0.02 * box.height]
        ends = [place.x + fitted.width for fitted, _, place in rows if place in beside]
        if at.bottom() <= box.bottom and all(end + 0.02 * box.width <= at.left() for end in ends):
            return at
    return None
