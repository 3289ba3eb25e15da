"""One chart of the panel: a measure of both sides over the last minute, and what is aimed at."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pyqtgraph as pg
from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPen, QPolygonF
from PyQt6.QtWidgets import QWidget

from feedback.screens.clinician.chart_data import Traces, axis_range
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.palette import Ink
from feedback.screens.widgets.style import named
from feedback.texts.clinician import say
from feedback.texts.measures import short_title
from shared.catalogue import CATALOGUE
from shared.flow import Side

SHOWN_S: Final = 60.0
BACK_S: Final = 600.0
_LOOK_S: Final = 15.0
_NEAR_S: Final = 30.0
_EDGE_PX: Final = 1.5
INKS: Final[dict[Side | None, Ink]] = {
    None: palette.NO_SIDE_LINE,
    Side.LEFT: palette.LEFT_LINE,
    Side.RIGHT: palette.RIGHT_LINE,
}
_LOOKS: Final[dict[Side | None, Qt.PenStyle]] = {
    None: Qt.PenStyle.SolidLine,
    Side.LEFT: Qt.PenStyle.SolidLine,
    Side.RIGHT: Qt.PenStyle.DashLine,
}

_DOT_PX: Final[dict[Side | None, int]] = {None: 4, Side.LEFT: 7, Side.RIGHT: 6}
"""A measure without sides has twice as many steps in the same room."""


@dataclass(frozen=True, slots=True)
class Ground:
    """What lies behind the lines of a chart; times in seconds before now, 0 or less."""

    unit: str = ""
    """Of this chart's values."""
    bands: tuple[tuple[float | None, float | None], ...] = ()
    own: tuple[tuple[Side | None, float], ...] = ()
    changes_s: tuple[float, ...] = ()
    blocks_s: tuple[float, ...] = ()

    def edges(self) -> list[float]:
        """Every height that must be in sight."""
        ends = [edge for band in self.bands for edge in band if edge is not None]
        return ends + [value for _, value in self.own]


class _Drawing(pg.GraphicsObject):  # type: ignore[misc] # the library has no type hints
    """Paints ground and lines in one go: a tenth of the time that an item for each takes."""

    def __init__(self) -> None:
        super().__init__()
        self.ground = Ground()
        self.lines: dict[Side | None, QPolygonF] = {}

    def show_all(self, ground: Ground, lines: dict[Side | None, QPolygonF]) -> None:
        """Paint this from now on."""
        self.ground, self.lines = ground, lines
        self.update()

    def boundingRect(self) -> QRectF:  # noqa: N802 - Qt's name
        """All that is in sight."""
        return QRectF(self.viewRect())

    def viewRangeChanged(self) -> None:  # noqa: N802 - the library's name
        """The chart was moved."""
        self.prepareGeometryChange()
        self.update()

    def paint(self, painter: QPainter, *_: Any) -> None:
        """All of it; pens are in pixels whatever the axes are."""
        self._paint_ground(painter)
        for side, line in self.lines.items():
            painter.setPen(_pen(INKS[side], 2, _LOOKS[side]))
            painter.drawPolyline(line)
            dots = _pen(INKS[side], _DOT_PX[side])
            dots.setCapStyle(
                Qt.PenCapStyle.SquareCap if side is Side.RIGHT else Qt.PenCapStyle.RoundCap
            )
            painter.setPen(dots)
            painter.drawPoints(line)

    def _paint_ground(self, painter: QPainter) -> None:
        sight = QRectF(self.viewRect())
        left, right, low_end, high_end = sight.left(), sight.right(), sight.top(), sight.bottom()
        for low, high in self.ground.bands:
            bottom, top = low_end if low is None else low, high_end if high is None else high
            fill = QRectF(QPointF(left, bottom), QPointF(right, top))
            painter.fillRect(fill, QColor(palette.LEFT_IN_BAND.on))
            painter.setPen(_pen(palette.TARGET_BAND, 2))
            for edge in (low, high):
                if edge is not None:
                    painter.drawLine(QPointF(left, edge), QPointF(right, edge))
        for side, value in self.ground.own:
            painter.setPen(_pen(INKS[side], _EDGE_PX, Qt.PenStyle.DotLine))
            painter.drawLine(QPointF(left, value), QPointF(right, value))
        for times, ink, look in (
            (self.ground.blocks_s, palette.BLOCK_MARK, Qt.PenStyle.DashLine),
            (self.ground.changes_s, palette.CHANGE_MARK, Qt.PenStyle.SolidLine),
        ):
            painter.setPen(_pen(ink, 2, look))
            for time_s in times:
                painter.drawLine(QPointF(time_s, low_end), QPointF(time_s, high_end))


class _AgoAxis(pg.AxisItem):  # type: ignore[misc] # the library has no type hints
    """Seconds before now."""

    def tickStrings(  # noqa: N802 - the library's name
        self, values: list[float], _scale: float, _spacing: float
    ) -> list[str]:
        """How long ago."""
        return [say("chart_ago", seconds=round(-at)) if at else say("chart_now") for at in values]


class Chart(pg.PlotWidget):  # type: ignore[misc] # the library has no type hints
    """Shows one measure. Drag, or the arrow keys, to look back; Home returns to now."""

    def __init__(self, parent: QWidget | None = None) -> None:
        axes = {"bottom": _AgoAxis("bottom")}
        super().__init__(parent, background=palette.CARD_TEXT.on, axisItems=axes)
        self.measure = ""
        self._range = (math.nan, math.nan)
        self._drawing = _Drawing()
        plot = self.getPlotItem()
        plot.setMenuEnabled(False)
        plot.hideButtons()
        plot.disableAutoRange()
        plot.setMouseEnabled(x=True, y=False)
        plot.setLimits(xMin=-BACK_S, xMax=0.5, minXRange=10, maxXRange=BACK_S)
        plot.addItem(self._drawing)
        plot.layout.setContentsMargins(0, SMALL_PX // 2, 2 * SMALL_PX, 0)
        for name in ("left", "bottom"):
            axis = plot.getAxis(name)
            axis.setTickFont(font(SMALL_PX))
            axis.setTextPen(QColor(palette.CARD_LABEL.colour))
            axis.setPen(QColor(palette.CARD_EDGE.colour))
        plot.getAxis("left").setWidth(46)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.back_to_now()

    def choose(self, measure: str) -> None:
        """Show another measure."""
        if measure == self.measure:
            return
        self.measure = measure
        self._range = (math.nan, math.nan)
        title = short_title(measure)
        named(self, title, say("chart_about", title=title))
        self.setToolTip("")

    @property
    def sides(self) -> tuple[Side | None, ...]:
        """Whose values are drawn."""
        return tuple(self._drawing.lines)

    @property
    def looks_back(self) -> bool:
        """Whether something else than the last minute is in sight."""
        (left, right), _ = self.getPlotItem().viewRange()
        return bool(abs(left + SHOWN_S) > 1 or abs(right) > 1)

    def back_to_now(self) -> None:
        """Show the last minute."""
        self.getPlotItem().setXRange(-SHOWN_S, 0.5, padding=0)

    def refresh(self, traces: Traces, now_ns: int, ground: Ground) -> None:
        """Show what is known ``now_ns``, by the station's clock."""
        spec = CATALOGUE[self.measure]
        (left, right), _ = self.getPlotItem().viewRange()
        seen = [np.array(ground.edges(), dtype=np.float64)]
        lines = {}
        for side in INKS:
            ago, values = traces.series(self.measure, side, ground.unit, now_ns)
            # a little more than is in sight, so that dragging finds something
            near = (ago >= left - _NEAR_S) & (ago <= right + _NEAR_S)
            if near.any():
                lines[side] = pg.functions.arrayToQPolygonF(ago[near], values[near])
            seen.append(values[(ago >= left) & (ago <= right)])
        # a tenth of what the measure can be: a steady value must not look like a storm
        least = 0.1 * (spec.plausible[1] - spec.plausible[0])
        wanted = axis_range(np.concatenate(seen), (), least, self._range)
        if wanted != self._range:
            self._range = wanted
            self.getPlotItem().setYRange(*wanted, padding=0)
        self._drawing.show_all(ground, lines)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Look back and forth in steps; other keys go on to the window."""
        if event is None:
            return
        (left, right), _ = self.getPlotItem().viewRange()
        ways = {Qt.Key.Key_Left: -_LOOK_S, Qt.Key.Key_Right: _LOOK_S}
        if event.key() == Qt.Key.Key_Home:
            self.back_to_now()
        elif event.key() in ways:
            step = ways[Qt.Key(event.key())]
            step = min(max(step, -BACK_S - left), 0.5 - right)
            self.getPlotItem().setXRange(left + step, right + step, padding=0)
        else:
            event.ignore()

    def mouseDoubleClickEvent(self, event: QMouseEvent | None) -> None:  # noqa: ARG002, N802
        """Back to now."""
        self.back_to_now()


def _pen(ink: Ink, width: float, look: Qt.PenStyle | None = None) -> QPen:
    pen = QPen(QColor(ink.colour), width)
    pen.setCosmetic(True)
    pen.setStyle(Qt.PenStyle.SolidLine if look is None else look)
    return pen
