"""F1 shows the manual in the window's own language, with commands as large on its first page."""

from __future__ import annotations

import json
import os
import subprocess
import sys

from shared.child_environment import LANGUAGE_VARIABLE, child_environment

PRESS = """
import json
from PyQt6.QtCore import Qt
from PyQt6.QtTest import QTest
from PyQt6.QtWidgets import QWidget
from feedback.screens.widgets.application import make_app
from feedback.screens.widgets.help_window import Help
from feedback.texts.languages import follow

follow()
app = make_app()
window = QWidget()
manual = Help(window, "sounds")
window.show()
window.activateWindow()
QTest.qWaitForWindowActive(window)
QTest.keyClick(window, Qt.Key.Key_F1)
shown = manual.shown


def listed():
    return [shown.topics.item(row).text() for row in range(shown.topics.count())]


def command_px():
    return shown.text.document().find("beltside").charFormat().font().pixelSize()


titles, text, first_px = listed(), shown.text.toPlainText(), command_px()
manual.open("camera")
manual.open("sounds")
later_px = command_px()
shown.search.setText("brustgurt")
print(json.dumps([titles, text, listed(), first_px, later_px, shown.isVisible()]))
"""


def test_a_german_window_has_the_german_manual() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PRESS],
        env=child_environment(os.environ)
        | {"QT_QPA_PLATFORM": "offscreen", LANGUAGE_VARIABLE: "de"},
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    titles, text, found, first_px, later_px, visible = json.loads(done.stdout)
    assert visible
    assert titles[0] == "Das Startfenster"
    assert "wieder im Ziel" in text
    assert "Laufband, Brustgurt und Fußsensor" in found
    assert first_px == later_px > 0
