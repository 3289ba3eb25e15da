"""A chart of one measure over real dates: with and without cues, uncertainty, the own value."""

from __future__ import annotations

import itertools
from datetime import datetime
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.start.records_model import Series, Value, span, ticks
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.texts.measures import unit_text
from shared.language import _

_LEFT, _RIGHT, _TOP, _BOTTOM = 64.0, 18.0, 34.0, 30.0
_MARK: Final = 5.5
_APART: Final = 4.0
"""Marks of one session, with and without cues, stand so far to either side of its day."""
_DAY_S: Final = 86_400.0


class DatesChart(QWidget):
    """Draws one series; what a screen reader says of it are its figures."""

    def __init__(self) -> None:
        super().__init__()
        self._series: Series | None = None
        self.setMinimumHeight(230)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)

    def show_series(self, series: Series | None) -> None:
        """Draw that one."""
        self._series = series
        self.setAccessibleName("" if series is None else series.title)
        self.setAccessibleDescription("" if series is None else said(series))
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.CARD_TEXT.on))
        painter.setFont(font(SMALL_PX))
        series = self._series
        if series is None or not series.points:
            painter.setPen(QColor(palette.CARD_LABEL.colour))
            text = _("No sessions can be compared yet.")
            painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, text)
            return
        _Drawing(painter, series, QRectF(self.rect())).draw()


class _Drawing:
    """One painting of one series."""

    def __init__(self, painter: QPainter, series: Series, room: QRectF) -> None:
        self.painter, self.series = painter, series
        self.place = room.adjusted(_LEFT, _TOP, -_RIGHT, -_BOTTOM)
        self.low, self.high = span(series)
        times = [point.at_s for point in series.points]
        spare = max((max(times) - min(times)) * 0.04, _DAY_S)
        self.first, self.last = min(times) - spare, max(times) + spare
        self.metrics = QFontMetricsF(painter.font())

    def x(self, at_s: float) -> float:
        share = (at_s - self.first) / (self.last - self.first)
        return self.place.left() + share * self.place.width()

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.place.bottom() - share * self.place.height()

    def draw(self) -> None:
        self._grid()
        self._own()
        self._dates()
        self._lines()
        for point in self.series.points:
            if point.cued is not None:
                self._value(self.x(point.at_s) - _APART, point.cued, cued=True)
            if point.uncued is not None:
                self._value(self.x(point.at_s) + _APART, point.uncued, cued=False)
        self._key()

    def _grid(self) -> None:
        for tick in ticks(self.low, self.high):
            y = self.y(tick)
            self.painter.setPen(QPen(QColor(palette.PLATE_TEXT.on), 1))
            self.painter.drawLine(QPointF(self.place.left(), y), QPointF(self.place.right(), y))
            self.painter.setPen(QColor(palette.CARD_LABEL.colour))
            box = QRectF(0, y - 10, _LEFT - 8, 20)
            flags = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            self.painter.drawText(box, flags, f"{tick:g}")

    def _own(self) -> None:
        own = self.series.own
        if own is None:
            return
        y = self.y(own.value)
        if own.half is not None:
            fill = QColor(palette.TARGET_BAND.colour)
            fill.setAlpha(60)
            top, bottom = self.y(own.value + own.half), self.y(own.value - own.half)
            self.painter.fillRect(
                QRectF(self.place.left(), top, self.place.width(), bottom - top), fill
            )
        pen = QPen(QColor(palette.TARGET_BAND.colour), 2, Qt.PenStyle.DashLine)
        self.painter.setPen(pen)
        self.painter.drawLine(QPointF(self.place.left(), y), QPointF(self.place.right(), y))

    def _dates(self) -> None:
        """The day below each session, as many as there is room for."""
        until = -1.0
        self.painter.setPen(QColor(palette.CARD_LABEL.colour))
        for point in self.series.points:
            text = f"{datetime.fromisoformat(point.utc).astimezone():%Y-%m-%d}"
            wide = self.metrics.horizontalAdvance(text)
            left = min(max(self.x(point.at_s) - wide / 2, 2.0), self.place.right() - wide + 8)
            if left < until:
                continue
            until = left + wide + 10
            flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
            self.painter.drawText(QRectF(left, self.place.bottom() + 6, wide + 2, 20), flags, text)

    def _lines(self) -> None:
        """From session to session: through the steps with cues, and through those without."""
        self.painter.setPen(QPen(QColor(palette.CARD_OLD.colour), 1))
        for cued, shift in ((True, -_APART), (False, _APART)):
            values = [(p.at_s, p.cued if cued else p.uncued) for p in self.series.points]
            places = [
                QPointF(self.x(at_s) + shift, self.y(one.value))
                for at_s, one in values
                if one is not None
            ]
            for before, here in itertools.pairwise(places):
                self.painter.drawLine(before, here)

    def _value(self, x: float, value: Value, *, cued: bool) -> None:
        colour = QColor((palette.LEFT_LINE if cued else palette.RIGHT_LINE).colour)
        self.painter.setPen(QPen(colour, 2))
        y = self.y(value.value)
        if value.half is not None:
            top, bottom = self.y(value.value + value.half), self.y(value.value - value.half)
            self.painter.drawLine(QPointF(x, top), QPointF(x, bottom))
            for end in (top, bottom):
                self.painter.drawLine(QPointF(x - 4, end), QPointF(x + 4, end))
        self._mark(QPointF(x, y), colour, cued=cued)

    def _mark(self, at: QPointF, colour: QColor, *, cued: bool) -> None:
        """A full square with cues, an open circle without: told apart without colour too."""
        self.painter.setPen(QPen(colour, 2))
        if cued:
            self.painter.setBrush(colour)
            self.painter.drawRect(QRectF(at.x() - _MARK, at.y() - _MARK, 2 * _MARK, 2 * _MARK))
        else:
            self.painter.setBrush(QColor(palette.CARD_TEXT.on))
            self.painter.drawEllipse(at, _MARK, _MARK)

    def _key(self) -> None:
        """Which mark is which, and the unit, above the chart."""
        x, y = _LEFT, _TOP / 2
        flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        unit = unit_text(self.series.unit)
        self.painter.setPen(QColor(palette.CARD_LABEL.colour))
        self.painter.drawText(QRectF(8, y - 10, _LEFT, 20), flags, unit)
        x = max(x, 8 + self.metrics.horizontalAdvance(unit) + 16)
        has_cued = any(point.cued is not None for point in self.series.points)
        has_uncued = any(point.uncued is not None for point in self.series.points)
        for shown, text, cued in (
            (has_cued, _("with cues"), True),
            (has_uncued, _("without cues"), False),
        ):
            if not shown:
                continue
            colour = QColor((palette.LEFT_LINE if cued else palette.RIGHT_LINE).colour)
            self._mark(QPointF(x + _MARK, y), colour, cued=cued)
            x = self._word(x + 3 * _MARK, y, text)
        if self.series.own is not None:
            pen = QPen(QColor(palette.TARGET_BAND.colour), 2, Qt.PenStyle.DashLine)
            self.painter.setPen(pen)
            self.painter.drawLine(QPointF(x, y), QPointF(x + 24, y))
            x = self._word(x + 32, y, self.series.own.words)
        self._word(x, y, _("bars: 90 % interval of the mean"))

    def _word(self, x: float, y: float, text: str) -> float:
        self.painter.setPen(QColor(palette.CARD_TEXT.colour))
        wide = self.metrics.horizontalAdvance(text)
        flags = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        self.painter.drawText(QRectF(x, y - 10, wide + 2, 20), flags, text)
        return x + wide + 22


def said(series: Series) -> str:
    """The chart's figures, for whoever does not see it."""
    lines = []
    for point in series.points:
        day = point.utc[:10]
        for one, text in (
            (point.cued, _("{day}: {value} {unit} with cues")),
            (point.uncued, _("{day}: {value} {unit} without cues")),
        ):
            if one is not None:
                value = f"{one.value:.{series.decimals}f}"
                lines.append(text.format(day=day, value=value, unit=unit_text(series.unit)))
    return "; ".join(lines)
