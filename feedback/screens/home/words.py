"""A heading and texts as large as fits, a picture beside them, and how far something is."""

from __future__ import annotations

from typing import Final

from PyQt6.QtCore import QRectF, QSize, Qt
from PyQt6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PyQt6.QtWidgets import QSizePolicy, QWidget

from feedback.screens.widgets import palette
from feedback.screens.widgets.lettering import Fitted, draw, fit
from feedback.screens.widgets.pictures import PICTURES, draw_picture
from feedback.screens.widgets.style import named
from feedback.screens.widgets.text_box import Box

_HEADING_SHARE: Final = 0.085
_TEXT_SHARE: Final = 0.05
"""Heights of a capital, in heights of the place: no larger, and smaller where it must be."""
_LEAST_HEADING_CAP_PX: Final = 24.0
"""A question is larger than what is pressed to answer it, also where there is little room."""
_PICTURE_SHARE: Final = 0.28
_BETWEEN_SHARE: Final = 0.03
_ROWS: Final = 6
_BAR_PX: Final = 26.0
_SHRINK: Final = 0.94


class PageWords(QWidget):
    """The words of a page; a screen reader gets the heading as name and the texts as more."""

    def __init__(self) -> None:
        super().__init__()
        self._heading = ""
        self._texts: tuple[str, ...] = ()
        self._share: float | None = None
        self._picture = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(QSize(240, 120))

    def say(
        self,
        heading: str,
        texts: tuple[str, ...],
        share: float | None = None,
        picture: str = "",
    ) -> None:
        """Show these words; ``share``: how much of it is done, for a bar under them."""
        self._heading, self._texts, self._share = heading, texts, share
        self._picture = picture if picture in PICTURES else ""
        named(self, heading, " ".join(texts))
        self.setToolTip("")
        self.update()

    @property
    def said(self) -> tuple[str, tuple[str, ...]]:
        """What is shown now."""
        return self._heading, self._texts

    def blocks(self) -> list[Fitted]:
        """The heading and the texts at the sizes that fit."""
        wide, high = self._words_px(), float(self.height())
        if self._share is not None:
            high -= 2 * _BAR_PX
        least = _LEAST_HEADING_CAP_PX
        wanted = [(self._heading, max(_HEADING_SHARE * self.height(), least), True)]
        wanted += [
            (text, max(_TEXT_SHARE * self.height(), 0.5 * least), False)
            for text in self._texts
            if text
        ]
        scale = 1.0
        while True:
            made = [
                fit(text, wide, high, scale * cap, _ROWS, bold=bold) for text, cap, bold in wanted
            ]
            if _total(made) <= 0.96 * high or scale < 0.1:
                return made
            scale *= _SHRINK

    def paintEvent(self, event: QPaintEvent | None) -> None:  # noqa: ARG002, N802 - Qt's name
        """Draw the words from the left edge, the picture at the right, and the bar."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), QColor(palette.ground()))
        made = self.blocks()
        room = float(self.height()) - (0.0 if self._share is None else 2 * _BAR_PX)
        y = (room - _total(made)) / 2
        for number, fitted in enumerate(made):
            ink = palette.NUMBER if number == 0 else palette.LABEL
            place = Box(0.0, y, self._words_px(), fitted.height)
            draw(painter, fitted, place, ink.colour, Qt.AlignmentFlag.AlignLeft)
            y += fitted.height + _gap(fitted)
        if self._picture:
            side = min(0.9 * room, _PICTURE_SHARE * self.width())
            at = QRectF(self.width() - side, (room - side) / 2, side, side)
            draw_picture(painter, self._picture, at)
        if self._share is not None:
            self._bar(painter, self._share)
        painter.end()

    def _words_px(self) -> float:
        """How wide the words may be."""
        aside = _PICTURE_SHARE + _BETWEEN_SHARE if self._picture else 0.0
        return (1.0 - aside) * self.width()

    def _bar(self, painter: QPainter, share: float) -> None:
        frame = QRectF(1.0, self.height() - 1.5 * _BAR_PX, 0.6 * self.width(), _BAR_PX)
        painter.setPen(QPen(QColor(palette.RAIL.colour), 2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(frame)
        inner = frame.adjusted(4, 4, -4, -4)
        inner.setWidth(max(0.0, min(share, 1.0)) * inner.width())
        painter.fillRect(inner, QColor(palette.BAND_EDGE.colour))


def _gap(fitted: Fitted) -> float:
    return 0.9 * fitted.cap_px


def _total(made: list[Fitted]) -> float:
    return sum(fitted.height for fitted in made) + sum(_gap(fitted) for fitted in made[:-1])
