"""Checks on a real offscreen panel that shows a measure which only the catalogue knows.

``python -m tests.feedback.screens.new_measure_look`` prints each check with what went wrong.
"""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PyQt6.QtWidgets import QLabel

from feedback.screens.clinician.measures import MeasureTable
from feedback.screens.clinician.panel import PanelWindow
from feedback.screens.widgets.application import make_app
from tests.feedback.screens.looking import report
from tests.feedback.screens.panel_feed import StillPanelLink
from tests.feedback.screens.panel_tools import (
    HAND,
    check_label,
    close_panel,
    has_data,
    shown_in,
    until,
)
from tests.new_measure import in_the_catalogue, panel_status, points


def check_the_panel_lists_charts_and_moves_it() -> None:
    with in_the_catalogue() as spec:
        made = PanelWindow(StillPanelLink(panel_status(), points()))
        made.resize(1920, 1080)  # charts beside targets
        made.show()
        HAND.qWaitForWindowExposed(made)
        until(lambda: has_data(made, 0))
        assert made.view.charts.charts[0].measure == spec.name
        (table,) = made.findChildren(MeasureTable)
        cells = [table.item(row, 0) for row in range(table.rowCount())]
        assert any(cell is not None and spec.short_title in cell.text() for cell in cells)
        labels = shown_in(made, QLabel)
        assert sum(spec.short_title in one.text() for one in labels) >= 2  # chart and target
        for label in labels:
            check_label(label, ("new measure",))
        close_panel(made)


def main() -> None:
    """Run the check."""
    _app = make_app()
    report({"listed": check_the_panel_lists_charts_and_moves_it})


if __name__ == "__main__":
    main()
