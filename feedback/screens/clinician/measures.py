"""The table of measures: both sides against target and baseline, each with its uncertainty."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QColor, QFont, QFontMetricsF, QKeyEvent, QResizeEvent
from PyQt6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem

from feedback.screens.clinician.measure_rows import MeasureRow
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import BODY_PX, SMALL_PX
from feedback.screens.widgets.lettering import font
from feedback.screens.widgets.style import named
from feedback.texts.clinician import say
from shared.catalogue import CATALOGUE
from shared.flow import BandState

_COLUMNS: Final = (
    # key, widest text that it must hold
    ("measure", ""),
    ("left", "–10.5 ±1.5"),  # noqa: RUF001 - the wide minus sign of the screens
    ("right", "–10.5 ±1.5"),  # noqa: RUF001
    ("own_left", "–10.5"),  # noqa: RUF001
    ("own_right", "–10.5"),  # noqa: RUF001
    ("change", "(–10.5)  (–10.5)"),  # noqa: RUF001
    ("target", "171 to 179"),
    ("state", "not known"),
    ("quality", "0.31 low, 5 s"),
)
_ABOUT: Final = {
    "left": "about_value",
    "right": "about_value",
    "own_left": "about_own",
    "own_right": "about_own",
    "change": "about_change",
    "quality": "about_quality",
}
_OUT: Final = frozenset({BandState.BELOW, BandState.ABOVE})
_STATE_COLUMN: Final = 7
_QUALITY_COLUMN: Final = 8
_VALUE_COLUMNS: Final = (1, 2)
_OWN_COLUMNS: Final = (3, 4)
_ROW_PX, _LARGE_ROW_PX = 26, 34
_TITLE_PX: Final = 194
"""Holds the longest title with its unit."""


class MeasureTable(QTableWidget):
    """One row for each measure of the catalogue; the current row is the one that is charted."""

    chosen = pyqtSignal(str)

    def __init__(self) -> None:
        super().__init__(0, len(_COLUMNS))
        self._rows: tuple[MeasureRow, ...] = ()
        self._old = False
        self._plain, self._bold = font(BODY_PX - 1), font(BODY_PX - 1, bold=True)
        self._large = font(BODY_PX + 1, bold=True)
        self.setHorizontalHeaderLabels([say(f"column_{key}") for key, _ in _COLUMNS])
        for column, (key, _) in enumerate(_COLUMNS):
            item = self.horizontalHeaderItem(column)
            if item is not None and key in _ABOUT:
                item.setToolTip(say(_ABOUT[key]))
        header, rows = self.horizontalHeader(), self.verticalHeader()
        if header is not None and rows is not None:
            rows.hide()
            rows.setDefaultSectionSize(_ROW_PX)
            header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
            header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
            header.setMinimumSectionSize(36)
            heading = QFontMetricsF(font(SMALL_PX))
            for column, (key, widest) in enumerate(_COLUMNS):
                if column:
                    metrics = QFontMetricsF(self._face(column, large=column in _VALUE_COLUMNS))
                    lines = say(f"column_{key}").splitlines()
                    wide = max(
                        metrics.horizontalAdvance(widest),
                        *(heading.horizontalAdvance(line) for line in lines),
                    )
                    self.setColumnWidth(column, round(wide) + 14)
        self._widths = [self.columnWidth(column) for column in range(len(_COLUMNS))]
        self._quality_px = self._widths[_QUALITY_COLUMN]
        self.setColumnHidden(_QUALITY_COLUMN, True)
        self._widths[_QUALITY_COLUMN] = 0
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setTabKeyNavigation(False)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setMinimumHeight(150)
        named(self, say("measures"), say("measures_about"))
        self.setToolTip("")
        self.currentCellChanged.connect(self._on_current)

    def refresh(self, rows: tuple[MeasureRow, ...], *, old: bool) -> None:
        """Show the rows that have values; only cells that say something new are touched."""
        rows = tuple(row for row in rows if not row.why_not)
        if [(row.name, row.targeted) for row in rows] != [
            (row.name, row.targeted) for row in self._rows
        ]:
            self._lay_out(rows)
        elif rows == self._rows and old == self._old:
            return
        for number, row in enumerate(rows):
            if old != self._old or not self._rows or row != self._rows[number]:
                self._write(number, row, old=old)
        self._rows, self._old = rows, old

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Leave the baseline's columns out where there is no room: the change tells of it too."""
        super().resizeEvent(event)
        viewport = self.viewport()
        if viewport is None:
            return
        others = sum(self._widths[1:])
        tight = viewport.width() - others < _TITLE_PX
        for column in _OWN_COLUMNS:
            self.setColumnHidden(column, tight)

    def show_quality(self, shown: bool) -> None:
        """Whether each row has its quality as a number; without, only a low one is told of."""
        if shown == self.isColumnHidden(_QUALITY_COLUMN):
            self.setColumnHidden(_QUALITY_COLUMN, not shown)
            self._widths[_QUALITY_COLUMN] = self._quality_px if shown else 0
            rows, self._rows = self._rows, ()
            self.refresh(rows, old=self._old)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 - Qt's name
        """Letters do not search, so that no key is swallowed; the rest is the table's."""
        if event is not None and event.text().isprintable() and event.text().strip():
            event.ignore()
            return
        super().keyPressEvent(event)

    def _lay_out(self, rows: tuple[MeasureRow, ...]) -> None:
        self._rows = ()
        self.clearSpans()
        self.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for column in range(len(_COLUMNS)):
                item = QTableWidgetItem()
                item.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
                if column:
                    item.setTextAlignment(Qt.AlignmentFlag.AlignCenter)
                else:
                    item.setToolTip(CATALOGUE[row.name].definition)
                self.setItem(number, column, item)
            self.setRowHeight(number, _LARGE_ROW_PX if row.targeted else _ROW_PX)
            if not row.by_side:
                self.setSpan(number, 1, 1, 2)
                self.setSpan(number, 3, 1, 2)

    def _write(self, number: int, row: MeasureRow, *, old: bool) -> None:
        texts = (
            row.title,
            row.left,
            row.right,
            row.own_left,
            row.own_right,
            "  ".join(row.changes),
            row.target,
            self._now(row),
            say("old") if old and row.quality else row.quality,
        )
        dim = old or row.old or row.doubtful
        for column, text in enumerate(texts):
            item = self.item(number, column)
            if item is None:
                continue
            ink = palette.CARD_TEXT
            face = self._face(column, large=row.targeted and column in _VALUE_COLUMNS)
            if dim and column:
                ink = palette.CARD_OLD
            elif column == _STATE_COLUMN and row.state in _OUT:
                ink = palette.CARD_NOTE
            _set(item, text, ink.colour, face)

    def _now(self, row: MeasureRow) -> str:
        if not self.isColumnHidden(_QUALITY_COLUMN) or not (row.doubtful or row.old):
            return row.now
        return say("old" if row.old else "now_doubtful")

    def _face(self, column: int, *, large: bool) -> QFont:
        if large:
            return self._large
        return self._bold if column == _STATE_COLUMN else self._plain

    def _on_current(self, row: int, _column: int, _before: int, _column_before: int) -> None:
        if 0 <= row < len(self._rows):
            self.chosen.emit(self._rows[row].name)


def _set(item: QTableWidgetItem, text: str, colour: str, face: QFont) -> None:
    if item.text() != text:
        item.setText(text)
    wanted = QColor(colour)
    if item.foreground().color() != wanted:
        item.setForeground(wanted)
    if item.font() != face:
        item.setFont(face)
