"""A check of the monitors on the page of the settings, run with the other pages of the start."""

from __future__ import annotations

from PyQt6.QtWidgets import QApplication

from feedback.screens.start.model import PageName, Place
from feedback.screens.start.settings_page import SettingsPage
from feedback.screens.start.window import StartWindow
from feedback.screens.widgets.application import monitor_names
from feedback.storage.preferences import read_preferences


def check_monitors_are_chosen_by_name() -> None:
    window = StartWindow(Place(PageName.SETTINGS))
    window.show()
    page = window.page
    assert isinstance(page, SettingsPage)
    for box, field in (
        (page.runner_monitor, "runner_monitor"),
        (page.panel_monitor, "panel_monitor"),
    ):
        assert [box.itemData(at) for at in range(box.count())] == ["", *monitor_names()]
        for at, name in ((1, monitor_names()[0]), (0, "")):
            box.setCurrentIndex(at)
            box.activated.emit(at)
            assert getattr(read_preferences(), field) == name
            assert "next session" in window.told_title.text()
    window.prefer(panel_monitor="HDMI-9")
    page.enter(window.history.now.context)
    assert page.panel_monitor.currentText() == "HDMI-9 (not connected now)"
    page.volume.setValue(90)
    assert read_preferences().panel_monitor == "HDMI-9", "it is kept for when it is back"
    window.prefer(panel_monitor="", volume_percent=100)
    window.close()
    QApplication.processEvents()
