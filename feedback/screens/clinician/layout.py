"""Where the parts of the panel stand, as there is room; Stop, in the head, is above them all."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QHBoxLayout,
    QScrollArea,
    QSplitter,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.widgets.design import GAP_PX
from feedback.screens.widgets.style import card
from feedback.texts.clinician import say

_WIDE_PX: Final = 1780
_MIDDLE_PX: Final = 1200
_TALL_PX: Final = 820
_DO_PX: Final = 476
"""Holds a row of eleven numbers with its name and its button."""
_SIDE_PX: Final = 660
"""The focus measure and the blocks side by side."""
_SEE_SHARE: Final = 0.44
_HIGH_ROW_PX: Final = 470


class Kind(Enum):
    """The ways to arrange the parts."""

    WIDE = auto()
    """Three columns: what is seen, what is measured, what is done."""
    MIDDLE = auto()
    """The picture, and beside it all that must always be seen; the rest on pages under that."""
    TALL = auto()
    """The same above, the pages below."""
    SMALL = auto()
    """Pages, the first with the picture and all that must be seen."""


def kind_for(width: int, height: int) -> Kind:
    """Which way suits a body of this size."""
    if width >= _WIDE_PX:
        return Kind.WIDE
    if width >= _MIDDLE_PX:
        return Kind.MIDDLE
    return Kind.TALL if height >= _TALL_PX else Kind.SMALL


@dataclass(frozen=True, slots=True)
class Parts:
    """What the body is made of."""

    picture: QWidget
    replay: QWidget
    charts: QWidget
    focus: QWidget
    blocks: QWidget
    ratings: QWidget
    targets: Sequence[QWidget]
    notes: QWidget
    measures: Sequence[QWidget]
    log: QWidget


class Column(QWidget):
    """Parts one below the other, or ``across``."""

    def __init__(self, *, across: bool = False) -> None:
        super().__init__()
        self.setObjectName("ground")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.row: QBoxLayout = QHBoxLayout(self) if across else QVBoxLayout(self)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.row.setSpacing(GAP_PX)

    def add(self, widget: QWidget, stretch: int = 0) -> Column:
        """Put a part at the end."""
        self.row.addWidget(widget, stretch)
        return self


def scrolling(inner: QWidget, least_px: int = _DO_PX) -> QScrollArea:
    """A column that is scrolled where it is higher than its place."""
    area = QScrollArea()
    area.setWidget(inner)
    area.setWidgetResizable(True)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setMinimumWidth(least_px)
    return area


class PanelBody(QWidget):
    """All parts, in the way that suits the room."""

    def __init__(self, parts: Parts) -> None:
        super().__init__()
        self._parts = parts
        for part in (parts.charts, parts.blocks, parts.ratings, parts.notes, parts.log):
            card(part)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._shown: QWidget | None = None
        self.kind: Kind | None = None
        self._arrange(Kind.WIDE)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Another way where there is more or less room."""
        super().resizeEvent(event)
        self._arrange(kind_for(self.width(), self.height()))

    def _arrange(self, kind: Kind) -> None:
        if kind is self.kind:
            return
        self.kind = kind
        ways: dict[Kind, Callable[[], QWidget]] = {
            Kind.WIDE: self._wide,
            Kind.MIDDLE: self._middle,
            Kind.TALL: self._tall,
            Kind.SMALL: self._small,
        }
        before, self._shown = self._shown, ways[kind]()
        self._layout.addWidget(self._shown)
        if before is not None:
            before.setParent(None)
            before.deleteLater()

    # ---- the four ways

    def _wide(self) -> QWidget:
        parts = self._parts
        see = self._see()
        see.row.setStretch(2, 0)
        see.add(parts.charts, 1)
        measured = Column().add(parts.focus)
        for widget in (*parts.measures, parts.log):
            measured.add(widget, 3 if widget is parts.measures[0] else int(widget is parts.log))
        do = Column().add(parts.blocks).add(parts.ratings)
        for widget in (*parts.targets, parts.notes):
            do.add(widget)
        do.row.addStretch(1)
        body = _splitter(see, measured, scrolling(do))
        rest = _WIDE_PX - _DO_PX
        body.setSizes([round(_SEE_SHARE * rest), round((1 - _SEE_SHARE) * rest), _DO_PX])
        for index, share in enumerate((44, 56, 0)):
            body.setStretchFactor(index, share)
        return body

    def _middle(self) -> QWidget:
        parts = self._parts
        upper = Column(across=True).add(parts.focus, 2).add(parts.blocks, 3)
        beside = Column().add(upper).add(parts.ratings).add(self._pages(), 1)
        beside.setMinimumWidth(_SIDE_PX)
        body = _splitter(self._see(), beside)
        body.setSizes([_WIDE_PX, _SIDE_PX])
        body.setStretchFactor(0, 1)
        body.setStretchFactor(1, 0)
        return body

    def _tall(self) -> QWidget:
        first = self._first()
        first.setMinimumHeight(_HIGH_ROW_PX)
        return Column().add(first, 3).add(self._pages(), 2)

    def _small(self) -> QWidget:
        pages = self._pages()
        pages.insertTab(0, self._first(), say("page_see"))
        pages.setCurrentIndex(0)
        return pages

    def _first(self) -> QWidget:
        """The picture, and beside it all that must be seen."""
        parts = self._parts
        beside = Column().add(parts.focus).add(parts.blocks).add(parts.ratings)
        beside.row.addStretch(1)
        body = _splitter(self._see(), scrolling(beside))
        body.setSizes([_WIDE_PX, _DO_PX])
        body.setStretchFactor(0, 1)
        body.setStretchFactor(1, 0)
        return body

    def _see(self) -> Column:
        see = Column().add(self._parts.picture, 1000).add(self._parts.replay)
        see.row.addStretch(1)
        return see

    def _pages(self) -> QTabWidget:
        parts = self._parts
        do, measured = Column(), Column()
        for widget in (*parts.targets, parts.notes):
            do.add(widget)
        do.row.addStretch(1)
        for widget in parts.measures:
            measured.add(widget, int(widget is parts.measures[0]))
        pages = QTabWidget()
        pages.addTab(scrolling(do), say("page_do"))
        pages.addTab(measured, say("page_measures"))
        pages.addTab(Column().add(parts.charts), say("page_charts"))
        pages.addTab(Column().add(parts.log), say("page_log"))
        return pages


def _splitter(*columns: QWidget) -> QSplitter:
    body = QSplitter(Qt.Orientation.Horizontal)
    body.setChildrenCollapsible(False)
    body.setHandleWidth(GAP_PX)
    for column in columns:
        body.addWidget(column)
        column.show()
    return body
