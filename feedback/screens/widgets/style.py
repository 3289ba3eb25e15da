"""How controls look: one style sheet made of the design's sizes and the palette's pairs."""

from __future__ import annotations

import html
import math
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QFontMetricsF
from PyQt6.QtWidgets import QLabel, QWidget

from feedback.screens.widgets import palette
from feedback.screens.widgets.design import (
    BODY_PX,
    CONTROL_PX,
    CORNER_PX,
    FIGURE_PX,
    HEAD_PX,
    SMALL_PX,
    STRONG_PX,
    TITLE_PX,
)
from feedback.screens.widgets.lettering import FAMILIES, font

_KIND_PX: Final = {
    "label": SMALL_PX,
    "strong": STRONG_PX,
    "head": HEAD_PX,
    "page": TITLE_PX,
    "figure": FIGURE_PX,
}
_BOLD: Final = ("title", "strong", "head", "page", "figure")
_UNDER_PX: Final = 2


def style() -> str:
    """The style sheet of the whole window."""
    families = ", ".join(f'"{family}"' for family in FAMILIES)
    text, label, plate = palette.CARD_TEXT, palette.CARD_LABEL, palette.PLATE_TEXT
    off, chosen, focus = palette.PLATE_OFF, palette.CHOSEN, palette.KEY_FOCUS
    stop = palette.STOP_TEXT
    return f"""
    * {{ font-family: {families}; font-size: {BODY_PX}px; color: {text.colour}; }}
    QWidget#ground, QScrollArea, QSplitter, QTabWidget {{ background: {palette.ground()};
        border: none; }}
    QFrame[card="true"], QWidget[card="true"] {{ background: {text.on};
        border-radius: {CORNER_PX}px; }}
    QLabel {{ background: transparent; }}
    QLabel[kind="label"] {{ color: {label.colour}; font-size: {SMALL_PX}px; }}
    QLabel[kind="title"] {{ color: {label.colour}; font-weight: bold; }}
    QLabel[kind="strong"] {{ font-size: {STRONG_PX}px; font-weight: bold; }}
    QLabel[kind="head"] {{ font-size: {HEAD_PX}px; font-weight: bold; }}
    QLabel[kind="page"] {{ font-size: {TITLE_PX}px; font-weight: bold; }}
    QLabel[kind="figure"] {{ font-size: {FIGURE_PX}px; font-weight: bold; }}
    QLabel[well="false"] {{ color: {palette.CARD_NOTE.colour}; }}
    QLabel[old="true"] {{ color: {palette.CARD_OLD.colour}; }}
    QPushButton, QToolButton {{ background: {plate.on}; color: {plate.colour};
        border: 2px solid {palette.PLATE_EDGE.colour}; border-radius: {CORNER_PX - 1}px;
        padding: 2px 10px; min-height: {CONTROL_PX - 8}px; }}
    QToolButton {{ padding: 2px 0px; }}
    QToolButton[plain="true"] {{ padding: 2px 4px; font-size: {SMALL_PX}px; }}
    QPushButton[tight="true"] {{ padding: 2px 5px; }}
    QPushButton:pressed, QToolButton:checked {{ background: {chosen.on}; color: {chosen.colour}; }}
    QPushButton:disabled, QToolButton:disabled, QDoubleSpinBox:disabled, QLineEdit:disabled {{
        background: {off.on}; color: {off.colour}; border: 2px solid {plate.on}; }}
    QPushButton#stop {{ background: {stop.on}; color: {stop.colour}; font-weight: bold;
        border: 3px solid {stop.on}; border-radius: 8px; min-height: 0px; padding: 0px; }}
    QPushButton#stop:pressed {{ border-color: {stop.colour}; }}
    QPushButton#stop:disabled {{ background: {off.on}; color: {off.colour};
        border: 3px solid {plate.on}; }}
    QDoubleSpinBox, QLineEdit {{ background: {plate.on}; color: {plate.colour};
        border: 2px solid {palette.PLATE_EDGE.colour}; border-radius: {CORNER_PX - 1}px;
        padding: 2px 6px; min-height: {CONTROL_PX - 8}px;
        selection-background-color: {chosen.on}; selection-color: {chosen.colour}; }}
    QDoubleSpinBox::up-button, QDoubleSpinBox::down-button {{ width: 0px; border: none; }}
    QTableWidget, QListWidget {{ background: {text.on}; border: 2px solid {text.on};
        gridline-color: {plate.on}; outline: none;
        selection-background-color: {plate.on}; selection-color: {plate.colour}; }}
    QListWidget::item {{ padding: 2px 4px; }}
    QListWidget::item:selected, QTableWidget::item:selected {{ background: {plate.on}; }}
    QHeaderView, QHeaderView::section, QTableCornerButton::section {{ background: {text.on};
        color: {label.colour}; border: none; font-size: {SMALL_PX}px; padding: 3px 4px; }}
    QTabWidget::pane {{ border: none; }}
    QTabBar {{ qproperty-drawBase: 0; }}
    QTabBar::tab {{ background: {text.on}; color: {label.colour}; padding: 7px 16px;
        border: 2px solid {text.on}; }}
    QTabBar::tab:selected {{ color: {text.colour}; border-bottom-color: {chosen.on};
        font-weight: bold; }}
    QSplitter::handle {{ background: {palette.ground()}; }}
    QScrollBar:vertical, QScrollBar:horizontal {{ background: {text.on}; width: 12px;
        height: 12px; }}
    QScrollBar::handle {{ background: {palette.CARD_EDGE.colour}; border-radius: 4px;
        min-height: 24px; min-width: 24px; }}
    QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page {{
        background: none; border: none; width: 0px; height: 0px; }}
    QToolTip {{ background: {plate.on}; color: {plate.colour};
        border: 1px solid {palette.PLATE_EDGE.colour}; }}
    QPushButton:focus, QToolButton:focus, QDoubleSpinBox:focus, QLineEdit:focus,
    QTableWidget:focus, QListWidget:focus, QTabBar::tab:focus {{
        border: 2px solid {focus.colour}; }}
    QPushButton#stop:focus {{ border: 3px solid {focus.colour}; }}
    """


def label(text: str = "", kind: str = "", *, wrap: bool = False) -> QLabel:
    """A line of words; ``kind`` picks its look: label, title, strong, head, page or figure."""
    made = QLabel(text)
    made.setTextFormat(Qt.TextFormat.PlainText)
    made.setWordWrap(wrap)
    if kind:
        made.setProperty("kind", kind)
    return made


def room_for(place: QLabel, rows: int) -> QLabel:
    """Let a line take the room of so many rows whatever it says, so that nothing moves by it."""
    place.setWordWrap(rows > 1)
    place.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
    place.setFixedHeight(rows_px(rows, place.property("kind") or "") + _UNDER_PX)
    return place


def rows_px(rows: int, kind: str = "") -> int:
    """How high so many rows are in the look ``kind``, before any widget has that look."""
    face = font(_KIND_PX.get(kind, BODY_PX), bold=kind in _BOLD)
    return math.ceil(rows * QFontMetricsF(face).lineSpacing())


def mark(widget: QWidget, name: str, value: bool) -> None:
    """Set a property that the style sheet looks at, and let it look again."""
    _set(widget, name, "true" if value else "false")


def dress(line: QLabel, kind: str) -> None:
    """Give a line another look; which there are: :func:`label`."""
    _set(line, "kind", kind)


def _set(widget: QWidget, name: str, text: str) -> None:
    if widget.property(name) == text:
        return
    widget.setProperty(name, text)
    look = widget.style()
    if look is not None:
        look.unpolish(widget)
        look.polish(widget)


def card(widget: QWidget) -> QWidget:
    """Make the widget a card on the ground."""
    widget.setProperty("card", "true")
    return widget


def enable(widget: QWidget, on: bool, heir: QWidget) -> None:
    """Let a control be used or not; the keys go to ``heir`` when it had them and may not keep them.

    Left to itself Qt gives them to the next control, where a second press would do something else.
    """
    if not on and widget.hasFocus():
        heir.setFocus()
    widget.setEnabled(on)


def named(widget: QWidget, name: str, about: str = "") -> None:
    """What a screen reader says of a control, and what is shown when the mouse rests on it."""
    widget.setAccessibleName(name)
    widget.setAccessibleDescription(about)
    widget.setToolTip(tip(about))


def tip(text: str) -> str:
    """``text`` for a tool tip: there alone Qt cannot be told that it is no markup."""
    if "<" not in text:
        return text
    return f"<p>{html.escape(text).replace(chr(10), '<br>')}</p>"


def on_control(text: str) -> str:
    """A name for a button or a tab, where one & would underline a letter and make it a key."""
    return text.replace("&", "&&")
