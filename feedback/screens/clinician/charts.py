"""The panel's charts: the targets' measures and the one that was chosen, one above the other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from PyQt6.QtCore import QPointF, QRectF, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent, QPen, QResizeEvent
from PyQt6.QtWidgets import QSizePolicy, QVBoxLayout, QWidget

from feedback.screens.clinician.chart import INKS, Chart, Ground
from feedback.screens.clinician.chart_data import Traces
from feedback.screens.clinician.measure_rows import MeasureRow
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import card, label
from feedback.texts.clinician import say
from feedback.texts.measures import short_title
from shared.catalogue import CATALOGUE
from shared.changes import TargetState
from shared.flow import Side
from shared.messages import Own, Snapshot

MOST_CHARTS: Final = 3
_ROW_PX: Final = SMALL_PX + 9
_ONE_ROW_PX: Final = 600
_START_PX: Final = 4.0


def charted(targets: Iterable[TargetState], chosen: str) -> tuple[str, ...]:
    """Which measures get a chart: those with a target first, then the chosen one."""
    names = dict.fromkeys([*(target.measure for target in targets), chosen])
    return tuple(name for name in names if name)[:MOST_CHARTS]


def ground_of(
    measure: str,
    snapshot: Snapshot,
    own: Iterable[Own],
    blocks_ns: Iterable[int],
    now_ns: int,
) -> Ground:
    """What lies behind the lines of one chart."""
    targets = [target for target in snapshot.targets if target.measure == measure]
    read = [reading.unit for reading in snapshot.readings if reading.name == measure]
    unit = [*(target.unit for target in targets), *read, CATALOGUE[measure].units[0]][0]
    return Ground(
        unit=unit,
        bands=tuple((target.low, target.high) for target in targets if target.unit == unit),
        # a baseline in another unit cannot be drawn on this axis
        own=tuple((one.side, one.mean) for one in own if one.name == measure and one.unit == unit),
        changes_s=tuple(
            (change.at_ns - now_ns) / 1e9
            for change in snapshot.changes
            if change.measure == measure
        ),
        blocks_s=tuple((at_ns - now_ns) / 1e9 for at_ns in blocks_ns),
    )


class ChartsView(QWidget):
    """Up to three charts and one legend. One chart is drawn anew at a time, in turn."""

    def __init__(self) -> None:
        super().__init__()
        card(self)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(8, 6, 8, 6)
        self._layout.setSpacing(2)
        self._none = label(say("chart_none"), "label")
        self._layout.addWidget(self._none)
        self._titles = [label("", "title") for _ in range(MOST_CHARTS)]
        self.charts = [Chart() for _ in range(MOST_CHARTS)]
        for title, chart in zip(self._titles, self.charts, strict=True):
            # a longer title must not push the picture aside
            title.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)
            self._layout.addWidget(title)
            self._layout.addWidget(chart, 1)
            chart.setMinimumHeight(90)
        self._layout.addWidget(_Legend())
        self._names: tuple[str, ...] = ()
        self._turn = 0
        self.choose(())

    def choose(self, names: tuple[str, ...]) -> None:
        """Show these measures."""
        self._names = names
        self._none.setVisible(not names)
        for index, (title, chart) in enumerate(zip(self._titles, self.charts, strict=True)):
            shown = index < len(names)
            title.setVisible(shown)
            chart.setVisible(shown)
            if shown:
                chart.choose(names[index])

    def say_values(self, rows: Iterable[MeasureRow]) -> None:
        """Write the newest values over the charts."""
        by_name = {row.name: row for row in rows}
        for title, chart, name in zip(self._titles, self.charts, self._names, strict=False):
            row = by_name.get(name)
            text = short_title(name) if row is None else row.title
            text = f"{text} · {say('chart_back')}" if chart.looks_back else text
            if title.text() != text:
                title.setText(text)

    def refresh_next(
        self,
        traces: Traces,
        snapshot: Snapshot,
        own: Iterable[Own],
        blocks_ns: Iterable[int],
        now_ns: int,
    ) -> None:
        """Draw the chart anew whose turn it is."""
        if not self._names:
            return
        self._turn = (self._turn + 1) % len(self._names)
        name = self._names[self._turn]
        ground = ground_of(name, snapshot, own, blocks_ns, now_ns)
        self.charts[self._turn].refresh(traces, now_ns, ground)


class _Legend(QWidget):
    """Which line is which, by colour, style and mark."""

    def __init__(self) -> None:
        super().__init__()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """A second row where there is no room for all in one."""
        super().resizeEvent(event)
        self.setFixedHeight(_ROW_PX * (1 if self.width() >= _ONE_ROW_PX else 2))

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Samples with their names."""
        painter = QPainter(self)
        painter.setFont(font(SMALL_PX))
        metrics, middle, x = painter.fontMetrics(), _ROW_PX / 2, _START_PX
        for key, ink, look in (
            ("legend_left", INKS[Side.LEFT], Qt.PenStyle.SolidLine),
            ("legend_right", INKS[Side.RIGHT], Qt.PenStyle.DashLine),
            ("legend_target", palette.TARGET_BAND, None),
            ("legend_own", INKS[None], Qt.PenStyle.DotLine),
            ("legend_change", palette.CHANGE_MARK, Qt.PenStyle.SolidLine),
            ("legend_block", palette.BLOCK_MARK, Qt.PenStyle.DashLine),
        ):
            text = say(key)
            upright = key in ("legend_change", "legend_block")
            wide = 8 if upright else 26
            if x + wide + metrics.horizontalAdvance(text) + 10 > self.width():
                middle, x = middle + _ROW_PX, _START_PX
            if look is None:
                sample = QRectF(x, middle - 6, wide, 12)
                painter.fillRect(sample, QColor(palette.LEFT_IN_BAND.on))
                painter.setPen(QPen(QColor(ink.colour), 2))
                painter.drawLine(sample.topLeft(), sample.topRight())
                painter.drawLine(sample.bottomLeft(), sample.bottomRight())
            else:
                painter.setPen(QPen(QColor(ink.colour), 2, look))
                if upright:
                    painter.drawLine(QPointF(x + 3, middle - 8), QPointF(x + 3, middle + 8))
                else:
                    painter.drawLine(QPointF(x, middle), QPointF(x + wide, middle))
            if key == "legend_left":
                painter.setBrush(QColor(ink.colour))
                painter.drawEllipse(QPointF(x + wide / 2, middle), 3, 3)
            elif key == "legend_right":
                painter.fillRect(QRectF(x + wide / 2 - 4, middle - 4, 8, 8), QColor(ink.colour))
            painter.setPen(QColor(palette.CARD_LABEL.colour))
            at = QPointF(x + wide + 6, middle + metrics.capHeight() / 2)
            painter.drawText(at, text)
            x += wide + metrics.horizontalAdvance(text) + 22
        painter.end()
