"""The clinician's panel at the station: a window of its own process, started by the station.

Run with ``python -m feedback.screens.clinician.panel --port N`` and the token in BELTSIDE_TOKEN.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from typing import Final

import msgspec
from PyQt6.QtCore import QRect, Qt
from PyQt6.QtGui import QCloseEvent
from PyQt6.QtWidgets import QVBoxLayout, QWidget

from feedback.link.local_client import LinkClient
from feedback.link.protocol import MAY_ASK
from feedback.screens.clinician.station_view import PanelLink, StationView
from feedback.screens.widgets.application import (
    fit_to_screen,
    make_app,
    monitor_names,
    run_loop,
    shared_parts,
    take_part,
)
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.launch import preferred
from feedback.screens.widgets.orphaned import Orphaned
from feedback.screens.widgets.runner_options import BESIDE, TOKEN_VARIABLE
from feedback.screens.widgets.share_monitor import PANEL_LEAST_PX
from feedback.screens.widgets.stop_keys import StopKeys
from feedback.screens.widgets.style import style
from feedback.storage.preferences import save_preferences
from feedback.texts.clinician import say
from feedback.texts.languages import follow
from shared.messages import Role
from shared.problems import UserError

PICTURES_PER_S: Final = 15.0
_NICE: Final = 5


class PanelWindow(QWidget):
    """One station in one window. Closing it leaves the session alone: it is not a Stop."""

    def __init__(self, link: PanelLink, orphaned: Orphaned | None = None) -> None:
        super().__init__()
        self.setWindowTitle(say("panel_title"))
        self.manual = Help(self, "panel")
        self.setObjectName("ground")
        self.setStyleSheet(style())
        self.setMinimumSize(*PANEL_LEAST_PX)
        self.view = StationView(link, MAY_ASK[Role.PANEL], PICTURES_PER_S, orphaned or Orphaned())
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.view)
        self.view.ended.connect(self.close)
        self._bar: bool | None = None
        """Whether the window is a bar below the runner's screen; None: they share no monitor."""
        self._asked_place: QRect | None = None
        self.view.head.stop.setFocus()
        StopKeys(self, lambda _: self.view.ask_stop())

    def share_monitor(self) -> None:
        """Leave the one monitor to the runner's screen but a bar, till the cautions are seen."""
        if shared_parts() is None:
            return
        self._bar = False
        self.view.worded.connect(self._take_part)
        self._take_part()

    def _take_part(self) -> None:
        bar = not self.view.showing.confirmed
        if bar == self._bar and self._asked_place is not None:
            return
        parts = shared_parts(confirmed=not bar)
        if parts is None:
            return
        self._bar = bar
        self.view.body.setVisible(not bar)
        self.view.head.keep_low(bar)
        self.setMinimumSize(PANEL_LEAST_PX[0] if not bar else 0, 0 if bar else PANEL_LEAST_PX[1])
        take_part(self, parts[1])
        self._asked_place = self.geometry()

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Leave the station, and remember the monitor."""
        self.view.leave()
        if self._bar is None:
            remember_monitor(self)
        super().closeEvent(event)


def remember_monitor(window: QWidget) -> None:
    """The panel opens on the same monitor next time, where there are several."""
    screen = window.screen()
    if screen is None or len(monitor_names()) < 2:
        return
    before = preferred()
    if before.panel_monitor != screen.name():
        with contextlib.suppress(UserError):  # no reason to stop closing
            save_preferences(msgspec.structs.replace(before, panel_monitor=screen.name()))


def stand_back() -> None:
    """Let the station go first where both want the processor: it measures, this only shows."""
    if sys.platform == "win32":
        import ctypes

        below_normal = 0x00004000  # SetPriorityClass, winbase.h
        kernel = ctypes.windll.kernel32
        kernel.SetPriorityClass(kernel.GetCurrentProcess(), below_normal)
    else:
        os.nice(_NICE)


def main(arguments: list[str] | None = None) -> int:
    """Open the window and stay until it is closed."""
    follow()
    parser = argparse.ArgumentParser(
        prog="feedback.screens.clinician.panel",
        description="The clinician's panel; the station starts it.",
    )
    parser.add_argument("--port", type=int, required=True, help="port of the station's link")
    parser.add_argument(BESIDE, action="store_true", help="the runner's screen is opened too")
    options = parser.parse_args(arguments)
    token = os.environ.pop(TOKEN_VARIABLE, "")
    if not token:
        print(say("needs_station"), file=sys.stderr)  # noqa: T201 - a message to a person
        return 2
    stand_back()
    app = make_app()
    link = LinkClient(options.port, token, Role.PANEL)
    link.start()
    window = PanelWindow(link)
    fit_to_screen(window, preferred().panel_monitor)
    if options.beside:
        # Its first key is the runner's: Y, on the page with the cautions.
        window.setAttribute(Qt.WidgetAttribute.WA_ShowWithoutActivating)
        window.share_monitor()
    window.show()
    return run_loop(app)


if __name__ == "__main__":
    sys.exit(main())
