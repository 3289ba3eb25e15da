"""The measure in focus, large: its value, how it stands to its band, and the runner's own."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QSize, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.clinician.in_focus import FocusShown
from feedback.screens.widgets import palette
from feedback.screens.widgets.design import (
    BODY_PX,
    CORNER_PX,
    FIGURE_PX,
    GAP_PX,
    PAD_PX,
    SMALL_PX,
    STRONG_PX,
)
from feedback.screens.widgets.lettering import draw, fit, width
from feedback.screens.widgets.palette import Ink
from feedback.screens.widgets.style import named
from feedback.screens.widgets.text_box import Box
from feedback.texts.clinician import say

_CAP: Final = 0.73
"""Height of a capital, in sizes of type."""
_HIGH_PX: Final = 164
_ROWS_PX: Final = (26, 48, 26, 24, 24)
_LEFT, _RIGHT = Qt.AlignmentFlag.AlignLeft, Qt.AlignmentFlag.AlignRight


class FocusView(QWidget):
    """Draws itself: each text has a place of its own and is set smaller where it is long."""

    def __init__(self) -> None:
        super().__init__()
        self._shown = FocusShown()
        self._old = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(_HIGH_PX)
        self.setMinimumWidth(240)
        named(self, say("focus"), "")

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as there is room."""
        return QSize(300, _HIGH_PX)

    def refresh(self, shown: FocusShown, *, old: bool) -> None:
        """Show this."""
        if shown == self._shown and old == self._old:
            return
        self._shown, self._old = shown, old
        said = (shown.title, shown.value, shown.unit, shown.state, shown.band, shown.own)
        self.setAccessibleDescription(", ".join(text for text in said if text))
        self.update()

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """All of it."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(palette.CARD_TEXT.on))
        painter.drawRoundedRect(self.rect(), CORNER_PX, CORNER_PX)
        shown = self._shown
        text = palette.CARD_OLD if self._old else palette.CARD_TEXT
        out = text if shown.well or self._old else palette.CARD_NOTE
        wide, y = self.width() - 2 * PAD_PX, float(GAP_PX)
        title, figure, state, band, own = (
            Box(PAD_PX, y + sum(_ROWS_PX[:row]), wide, high) for row, high in enumerate(_ROWS_PX)
        )
        note = Box(title.x + 0.66 * wide, title.y, 0.34 * wide, title.height)
        _line(painter, shown.note, note, palette.CARD_LABEL, SMALL_PX, align=_RIGHT)
        room = Box(title.x, title.y, (0.62 if shown.note else 1.0) * wide, title.height)
        _line(painter, shown.title, room, palette.CARD_LABEL, BODY_PX, bold=True)
        number = Box(figure.x, figure.y, 0.6 * wide, figure.height)
        _line(painter, shown.value, number, out, FIGURE_PX, bold=True)
        taken = min(width(shown.value, _CAP * FIGURE_PX, bold=True), number.width) + GAP_PX
        unit = Box(figure.x + taken, figure.y + 8, wide - taken, figure.height - 8)
        _line(painter, shown.unit, unit, palette.CARD_LABEL, BODY_PX)
        _line(painter, shown.state, state, out, STRONG_PX, bold=not shown.well)
        _line(painter, shown.band, band, text, BODY_PX)
        _line(painter, shown.own, own, palette.CARD_LABEL, BODY_PX)
        painter.end()


def _line(
    painter: QPainter,
    text: str,
    box: Box,
    ink: Ink,
    px: float,
    *,
    bold: bool = False,
    align: Qt.AlignmentFlag = _LEFT,
) -> None:
    """One row, no larger than ``px``, smaller where it would not fit."""
    if text:
        fitted = fit(text, box.width, box.height, _CAP * px, 1, bold=bold)
        draw(painter, fitted, box, ink.colour, align)
