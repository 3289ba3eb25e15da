"""Opens panels for the checks, and looks at them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Any

from PyQt6.QtCore import QRect, Qt
from PyQt6.QtTest import QTest as _QTest
from PyQt6.QtWidgets import (
    QAbstractScrollArea,
    QLabel,
    QLineEdit,
    QTabBar,
)

from feedback.link.client_state import LinkStatus
from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets.orphaned import Orphaned
from tests.feedback.screens.panel_examples import states
from tests.feedback.screens.panel_feed import StillPanelLink, points

HAND: Any = _QTest
"""The library's type hints do not know that its functions are static."""
KEY = Qt.Key


def open_panel(
    name: str, width: int, height: int, orphaned: Orphaned | None = None, **changes: Any
) -> tuple[PanelWindow, StillPanelLink]:
    status = states()[name]
    if changes:
        status = LinkStatus(**(_fields(status) | changes))
    with_points = status.snapshot is not None and bool(status.snapshot.readings)
    link = StillPanelLink(status, points() if with_points else ())
    made = PanelWindow(link, orphaned)
    made.resize(width, height)
    made.show()
    HAND.qWaitForWindowExposed(made)
    made.activateWindow()
    HAND.qWait(60)
    return made, link


def _fields(status: LinkStatus) -> dict[str, Any]:
    return {name: getattr(status, name) for name in status.__dataclass_fields__}


def close_panel(made: PanelWindow) -> None:
    made.close()
    made.deleteLater()


def pages(made: PanelWindow) -> Iterator[int]:
    """Turn to every page of a narrow window, one after the other."""
    bar = next((one for one in made.findChildren(QTabBar) if one.isVisible()), None)
    for page in range(1 if bar is None else bar.count()):
        if bar is not None:
            bar.setCurrentIndex(page)
            HAND.qWait(40)
        yield page


def shown_in(made: PanelWindow, kind: Any) -> list[Any]:
    return [one for one in made.findChildren(kind) if one.isVisible()]


def check_label(label: QLabel, where: tuple[object, ...]) -> None:
    text = label.text()
    if not text or isinstance(label.parent(), QLineEdit | QAbstractScrollArea):
        return
    flags = Qt.TextFlag.TextWordWrap if label.wordWrap() else Qt.TextFlag.TextSingleLine
    room = QRect(0, 0, label.width(), 10_000)
    needed = label.fontMetrics().boundingRect(room, flags.value, text)
    assert needed.width() <= label.width() + 1, (text, label.width(), needed.width(), where)
    assert needed.height() <= label.height() + 1, (text, label.height(), needed.height(), where)


def has_data(made: PanelWindow, index: int) -> bool:
    """Whether any line of a chart has a point."""
    return bool(made.view.charts.charts[index].sides)


def until(check: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 10
    while not check():
        assert time.monotonic() < deadline, "it never came to pass"
        HAND.qWait(10)
