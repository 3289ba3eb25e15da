"""Where the parts of the panel stand: three columns, or pages, as there is room."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import (
    QBoxLayout,
    QFrame,
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
_MIDDLE_PX: Final = 1040
_DO_PX: Final = 476
_ASIDE_SHAPE: Final = 1.1
_SHARES: Final = {0: (32, 68, 0), 2: (1, 0), 3: (1,)}
"""How the parts share the width, by how many of them are pages."""


class Column(QWidget):
    """Cards, one below the other; or ``side_by_side`` where it is much wider than high."""

    def __init__(self, *, side_by_side: bool = False) -> None:
        super().__init__()
        self._side_by_side = side_by_side
        self.setObjectName("ground")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(GAP_PX)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Choose the way that leaves more room for both."""
        super().resizeEvent(event)
        if self._side_by_side:
            wide = self.width() > _ASIDE_SHAPE * self.height()
            ways = QBoxLayout.Direction
            self.column.setDirection(ways.LeftToRight if wide else ways.TopToBottom)

    def add(self, widget: QWidget, stretch: int = 0) -> None:
        """Put a card at the end."""
        card(widget)
        self.column.addWidget(widget, stretch)

    def add_from_top(self, widgets: Sequence[QWidget], stretch: int) -> None:
        """The same, for some of which the first does not grow beyond its need."""
        holder = Column()
        for number, widget in enumerate(widgets):
            card(widget)
            holder.column.addWidget(widget, 0 if number else 1000)
        holder.column.addStretch(1)
        self.column.addWidget(holder, stretch)


def scrolling(inner: QWidget) -> QScrollArea:
    """A column that is scrolled where it is higher than its place."""
    area = QScrollArea()
    area.setWidget(inner)
    area.setWidgetResizable(True)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setMinimumWidth(_DO_PX)
    return area


class PanelBody(QWidget):
    """What is seen, what is measured and what can be done, side by side or as pages."""

    def __init__(self, see: QWidget, measures: QWidget, do: QWidget) -> None:
        super().__init__()
        self._parts = (
            (see, say("page_see")),
            (measures, say("page_measures")),
            (do, say("page_do")),
        )
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(0, 0, 0, 0)
        self._splitter: QSplitter | None = None
        self._pages = 0
        self._arrange(_WIDE_PX)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """Three columns, two, or one, as there is room."""
        super().resizeEvent(event)
        self._arrange(self.width())

    def _arrange(self, width: int) -> None:
        pages = 0 if width >= _WIDE_PX else 2 if width >= _MIDDLE_PX else 3
        if self._splitter is not None and pages == self._pages:
            return
        self._pages = pages
        body = QSplitter(Qt.Orientation.Horizontal)
        body.setChildrenCollapsible(False)
        body.setHandleWidth(GAP_PX)
        if pages:
            tabs = QTabWidget()
            for part, title in self._parts[:pages]:
                tabs.addTab(part, title)
            body.addWidget(tabs)
        for part, _ in self._parts[pages:]:
            body.addWidget(part)
            part.show()
        shares = _SHARES[pages]
        for index, share in enumerate(shares):
            body.setStretchFactor(index, share)
        rest = width - _DO_PX
        body.setSizes([*(round(rest * share / sum(shares)) for share in shares[:-1]), _DO_PX])
        before, self._splitter = self._splitter, body
        self._layout.addWidget(body)
        if before is not None:
            before.setParent(None)
            before.deleteLater()
