"""The start window's style sheet, beyond what all windows share."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path

from feedback.screens.widgets import palette
from feedback.screens.widgets.icons import picture_of
from feedback.screens.widgets.style import style

SIDE_PX = 200
WIDEST_PX = 1160
"""Of a page: longer lines are hard to read."""


def start_style() -> str:
    """The style sheet of the whole window."""
    chosen, text, plate = palette.CHOSEN, palette.CARD_TEXT, palette.PLATE_TEXT
    edge, focus = palette.PLATE_EDGE.colour, palette.KEY_FOCUS.colour
    return (
        style()
        + f"""
    QWidget#page, QWidget#inside {{ background: transparent; }}
    QPushButton {{ padding: 4px 16px; min-height: 30px; }}
    QPushButton[first="true"]:enabled {{ background: {chosen.on}; color: {chosen.colour};
        border-color: {chosen.on}; font-weight: bold; }}
    QPushButton:checked {{ border: 3px solid {chosen.on}; font-weight: bold; }}
    QListWidget#side {{ background: {palette.ground()}; border: none; font-size: 17px; }}
    QListWidget#side::item {{ padding: 10px 14px; border-radius: 6px; }}
    QListWidget#side::item:selected {{ background: {text.on}; font-weight: bold; }}
    QComboBox, QSpinBox, QPlainTextEdit, QTextBrowser {{ background: {plate.on};
        color: {plate.colour}; border: 2px solid {edge}; border-radius: 5px; padding: 2px 8px;
        min-height: 26px; selection-background-color: {chosen.on};
        selection-color: {chosen.colour}; }}
    QComboBox QAbstractItemView {{ background: {plate.on}; color: {plate.colour};
        selection-background-color: {chosen.on}; selection-color: {chosen.colour}; }}
    QComboBox:focus, QSpinBox:focus, QPlainTextEdit:focus, QTextBrowser:focus,
    QPushButton[first="true"]:focus, QListWidget#side:focus, QCheckBox:focus, QSlider:focus {{
        border: 2px solid {focus}; }}
    QTableWidget::item {{ padding: 0px 8px; }}
    QHeaderView::section {{ padding: 3px 8px; }}
    QCheckBox {{ spacing: 10px; padding: 3px; border: 2px solid transparent; }}
    QCheckBox::indicator {{ width: 18px; height: 18px; border: 2px solid {edge};
        border-radius: 4px; background: {plate.on}; }}
    QCheckBox::indicator:checked {{ background: {chosen.on}; border-color: {chosen.on};
        image: url({mark_file()}); }}
    QFrame#told {{ background: {text.on}; border-left: 6px solid {palette.CARD_NOTE.colour}; }}
    QFrame#told[kind="note"] {{ border-left-color: {palette.GOOD_SIGN.colour}; }}
    """
    )


@cache
def mark_file() -> str:
    """A check mark as a file, which is all that a style sheet can show in a box."""
    folder = Path(tempfile.mkdtemp(prefix="beltside-"))
    path = folder / "check.png"
    picture_of("check", palette.CHOSEN.colour, 14).save(str(path))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return path.as_posix()
