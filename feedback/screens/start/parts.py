"""Controls that the pages of the start window share: buttons, headings, room that scrolls."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from feedback.screens.widgets.style import card, label, named, on_control


def button(
    text: str, do: Callable[[], object], about: str = "", *, first: bool = False
) -> QPushButton:
    """A button with its name; ``first``: what most people want here, drawn so."""
    made = QPushButton(on_control(text))
    made.setProperty("first", "true" if first else "false")
    made.setAutoDefault(True)  # Enter presses it, as space does
    named(made, text, about)
    made.clicked.connect(lambda: do())
    return made


def heading(text: str) -> QWidget:
    """A heading within a page."""
    return label(text, kind="strong", wrap=True)


def words(text: str, kind: str = "") -> QWidget:
    """A paragraph."""
    return label(text, kind, wrap=True)


def row(*widgets: QWidget, stretch: bool = True) -> QWidget:
    """Side by side, from the left."""
    made = QWidget()
    made.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
    line = QHBoxLayout(made)
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(12)
    for widget in widgets:
        line.addWidget(widget)
    if stretch:
        line.addStretch(1)
    return made


def group(*widgets: QWidget) -> QFrame:
    """A card with things one below another."""
    made = QFrame()
    card(made)
    column = QVBoxLayout(made)
    column.setContentsMargins(20, 16, 20, 18)
    column.setSpacing(10)
    for widget in widgets:
        column.addWidget(widget)
    return made


def scrolled(inside: QWidget) -> QScrollArea:
    """Room that scrolls up and down where the window is too low."""
    area = QScrollArea()
    area.setWidgetResizable(True)
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(inside)
    return area
