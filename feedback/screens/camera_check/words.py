"""Parts of the camera check's screen that say things: what to do now, and the list of checks."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QPointF, QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QIcon, QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PyQt6.QtWidgets import QListWidget, QListWidgetItem, QSizePolicy, QWidget

from feedback.screens.camera_check.model import CheckRow
from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import draw, fit
from feedback.screens.widgets.style import named
from feedback.screens.widgets.text_box import Box
from feedback.texts.camera_check import tell
from shared.pictures import CheckState

_SIGN_PX: Final = 22
SIGN_SHARE: Final = 0.22
ROWS: Final = 5
MOST_CAP_SHARE: Final = 0.2
"""A capital is at most so high, in heights of the place."""


class BigWords(QWidget):
    """A heading and a text, as large as fits: to be read from the belt."""

    def __init__(self) -> None:
        super().__init__()
        self._heading = self._text = ""
        self._standing = CheckState.UNKNOWN
        self.setMinimumSize(QSize(240, 120))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def say(self, heading: str, text: str, standing: CheckState) -> None:
        """Show and, to a screen reader, tell these words."""
        if (heading, text, standing) == (self._heading, self._text, self._standing):
            return
        self._heading, self._text, self._standing = heading, text, standing
        named(self, heading, text)
        self.setToolTip("")
        self.update()

    @property
    def said(self) -> tuple[str, str]:
        """What is shown now."""
        return self._heading, self._text

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the words on a card, with a sign whose shape tells how it stands."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.CARD_TEXT.on))
        wide, high = float(self.width()), float(self.height())
        sign = min(0.16 * wide, SIGN_SHARE * high)
        margin = 0.05 * high
        draw_sign(painter, self._standing, QRectF(margin, margin, sign, sign))
        cap = MOST_CAP_SHARE * high
        box = Box(2 * margin + sign, margin, wide - 3 * margin - sign, sign)
        heading = fit(self._heading, box.width, box.height, cap, 1)
        draw(painter, heading, box, palette.CARD_LABEL.colour, Qt.AlignmentFlag.AlignLeft)
        top = 2 * margin + sign
        box = Box(margin, top, wide - 2 * margin, high - top - margin)
        text = fit(self._text, box.width, box.height, cap, ROWS, bold=True)
        draw(painter, text, box, palette.CARD_TEXT.colour, Qt.AlignmentFlag.AlignLeft)
        painter.end()


class CheckList(QListWidget):
    """All checks with a sign each: a tick in a disc, a triangle, an empty ring."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: tuple[CheckRow, ...] = ()
        self.setIconSize(QSize(_SIGN_PX, _SIGN_PX))
        self.setWordWrap(True)
        self.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSelectionMode(QListWidget.SelectionMode.NoSelection)
        named(self, tell("list"))

    def show_rows(self, rows: tuple[CheckRow, ...]) -> None:
        """Show these; only what has changed is touched, so that a reader is not disturbed."""
        if [row.key for row in rows] != [row.key for row in self._rows]:
            self.clear()
            for _ in rows:
                self.addItem(QListWidgetItem())
            self._rows = ()
        first = next((row.key for row in rows if row.standing is CheckState.TO_DO), None)
        before = next((row.key for row in self._rows if row.standing is CheckState.TO_DO), None)
        for number, row in enumerate(rows):
            if number >= len(self._rows) or row != self._rows[number]:
                item = self.item(number)
                if item is not None:
                    self._fill(item, row)
        self._rows = rows
        if first != before:
            number = next((n for n, row in enumerate(rows) if row.key == first), 0)
            self.scrollToItem(self.item(number))

    def _fill(self, item: QListWidgetItem, row: CheckRow) -> None:
        text = row.title if not row.value else f"{row.title}: {row.value}"
        item.setText(f"{text}\n{row.advice}" if row.advice else text)
        item.setIcon(_icon(row.standing, self.devicePixelRatioF()))
        item.setData(Qt.ItemDataRole.AccessibleTextRole, row.spoken)


def draw_sign(painter: QPainter, standing: CheckState, place: QRectF) -> None:
    """Good: a disc with a tick. To do: a triangle with a bar and a dot. Not known: a ring."""
    size = min(place.width(), place.height())
    middle = place.center()
    line = max(2.0, 0.1 * size)
    match standing:
        case CheckState.PASS:
            ink = palette.GOOD_SIGN
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(ink.colour))
            painter.drawEllipse(middle, 0.46 * size, 0.46 * size)
            pen = QPen(QColor(ink.on), line * 1.2)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPolyline(
                QPolygonF([_at(middle, size, x, y) for x, y in ((-22, 2), (-6, 18), (22, -16))])
            )
        case CheckState.TO_DO:
            ink = palette.TO_DO_SIGN
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(QColor(ink.colour))
            painter.drawPolygon(
                QPolygonF([_at(middle, size, x, y) for x, y in ((0, -46), (48, 40), (-48, 40))])
            )
            pen = QPen(QColor(ink.on), line * 1.2)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawLine(_at(middle, size, 0, -16), _at(middle, size, 0, 10))
            painter.drawPoint(_at(middle, size, 0, 27))
        case CheckState.UNKNOWN:
            painter.setPen(QPen(QColor(palette.OPEN_SIGN.colour), line))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(middle, 0.38 * size, 0.38 * size)


def _at(middle: QPointF, size: float, x: float, y: float) -> QPointF:
    """A point of a sign, in hundredths of its size."""
    return QPointF(middle.x() + x * size / 100, middle.y() + y * size / 100)


def _icon(standing: CheckState, dots: float) -> QIcon:
    side = round(_SIGN_PX * dots)
    image = QPixmap(side, side)
    image.fill(QColor(palette.CARD_TEXT.on))
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw_sign(painter, standing, QRectF(0, 0, side, side))
    painter.end()
    image.setDevicePixelRatio(dots)
    return QIcon(image)
