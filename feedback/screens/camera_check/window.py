"""The camera check's screen: a window of its own process, started by the check's station.

Run with ``python -m feedback.screens.camera_check.window --port N`` and the token in
BELTSIDE_TOKEN.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable
from functools import partial
from typing import Final, Protocol

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PyQt6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from feedback.link.client_state import LinkState, LinkStatus
from feedback.link.local_client import LinkClient
from feedback.screens.camera_check.belt_lines import (
    BodyGauge,
    at_rim,
    first_lines,
    to_edges,
    to_lines,
)
from feedback.screens.camera_check.model import CheckShowing, Going, Memory
from feedback.screens.camera_check.picture import SetupPicture
from feedback.screens.camera_check.words import BigWords, CheckList
from feedback.screens.widgets import palette
from feedback.screens.widgets.application import fill_screen, fit_to_screen, make_app, run_loop
from feedback.screens.widgets.awake import keep_awake
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.key_kinds import STANDS_NS
from feedback.screens.widgets.orphaned import Orphaned
from feedback.screens.widgets.runner_options import TOKEN_VARIABLE
from feedback.screens.widgets.style import label, mark, named, style
from feedback.texts.camera_check import tell
from shared.clock import now_ns
from shared.flow import View
from shared.messages import Request, Role
from shared.pictures import CheckDone, CheckReport, CheckState, SetEdges, WatchPictures

PICTURES_PER_S: Final = 12.0
SMALLEST_PX: Final = (820, 480)
_TICK_MS: Final = 80
_PING_NS: Final = 300_000_000
_BUTTON_PX: Final = 40


def _style() -> str:
    chosen = palette.CHOSEN
    return f"""
    QListWidget::item {{ padding: 0px 4px; }}
    QPushButton {{ font-weight: bold; min-height: {_BUTTON_PX}px; }}
    QPushButton[ready="true"] {{ background: {chosen.on}; color: {chosen.colour}; }}
    """


class SetupLink(Protocol):
    """What the window needs of its link."""

    def status(self) -> LinkStatus:
        """What is known now."""

    def ask(self, request: Request) -> None:
        """Ask for something."""

    def ping(self) -> None:
        """Give a sign of life."""

    def close(self) -> None:
        """Leave."""


class SetupWindow(QWidget):
    """Shows the newest picture and report; draws the belt's ends; goes on or leaves."""

    def __init__(self, link: SetupLink) -> None:
        super().__init__()
        self._link = link
        self._memory = Memory()
        self._gauge = BodyGauge()
        self._pinged_ns = 0
        self._orphaned = Orphaned()
        self._watching = False
        self._touched = False
        self._to_send = False
        self._asked_anyway = False
        self._over = False
        self._seen_picture_ns = 0
        self._since_ns = now_ns()
        """When what a key answers has come."""
        self.setWindowTitle(tell("title"))
        self.manual = Help(self, "camera")
        self.setObjectName("ground")
        self.setStyleSheet(style() + _style())
        self.setMinimumSize(*SMALLEST_PX)
        self.picture = SetupPicture(View.SIDE)
        self.picture.lines_moved.connect(self._on_lines_moved)
        self.words = BigWords()
        self.list = CheckList()
        self.help = label(tell("lines_help"), "label", wrap=True)
        self.go_on = _button("go_on")
        self.anyway = _button("anyway")
        self.back = _button("back")
        self.leave_button = _button("leave")
        self._lay_out()
        self._connect()
        self.leave_button.setFocus()
        self.showing = self._memory.show(link.status())
        self._show(self.showing, link.status())
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._on_tick)
        self._timer.start(_TICK_MS)

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.addWidget(self.picture, 1)
        left.addWidget(self.help)
        buttons = QHBoxLayout()
        for button in (self.go_on, self.anyway, self.back, self.leave_button):
            buttons.addWidget(button, 1)
        right = QVBoxLayout()
        right.addWidget(self.words, 52)
        right.addWidget(self.list, 48)
        right.addLayout(buttons)
        whole = QHBoxLayout(self)
        whole.setContentsMargins(12, 12, 12, 12)
        whole.setSpacing(12)
        whole.addLayout(left, 52)
        whole.addLayout(right, 48)

    def _connect(self) -> None:
        self.go_on.clicked.connect(self._on_go_on)
        self.anyway.clicked.connect(self._on_anyway)
        self.back.clicked.connect(self._on_back)
        self.leave_button.clicked.connect(self._on_leave)
        shortcuts = {
            "R": self.picture.rear.setFocus,
            "F": self.picture.front.setFocus,
            "E": self._on_lines_moved,
            "N": self._on_no_lines,
        }
        answers = {
            "Return": self._on_go_on,
            "Enter": self._on_go_on,
            "PgDown": self._on_page_down,
            "A": self._on_anyway,
            "Esc": self._on_escape,
        }
        shortcuts |= {name: partial(self._answer, act) for name, act in answers.items()}
        for name, act in shortcuts.items():
            QShortcut(QKeySequence(name), self).activated.connect(act)

    # ---- what Qt calls

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Closing leaves the check; the station starts nothing then."""
        self._timer.stop()
        self._link.close()
        super().closeEvent(event)

    # ---- news

    def _on_tick(self) -> None:
        at_ns, status = now_ns(), self._link.status()
        if at_ns - self._pinged_ns >= _PING_NS:
            self._pinged_ns = at_ns
            self._link.ping()
        if status.state is LinkState.ENDED or self._orphaned.is_over(status.state, at_ns):
            self.close()
            return
        if status.state is LinkState.JOINED and not self._watching:
            self._watching = True
            self._link.ask(WatchPictures(most_per_s=PICTURES_PER_S))
        self._take_picture(status)
        self._send_lines(status.report)
        self.showing = self._memory.show(status)
        self._show(self.showing, status)

    def _take_picture(self, status: LinkStatus) -> None:
        picture = status.picture
        if picture is None or picture.captured_ns == self._seen_picture_ns:
            return
        self._seen_picture_ns = picture.captured_ns
        self.picture.show_picture(picture)
        if not self._memory.was_good:
            # Afterwards the runner walks to the computer, and is no measure of the belt any more.
            self._gauge.add(picture.xy, picture.width_px / picture.height_px)

    def _send_lines(self, report: CheckReport | None) -> None:
        if self._to_send and report is not None:
            self._to_send = False
            if at_rim(self.picture.lines):
                self._link.ask(SetEdges(edges=None))  # nor do those of before hold
                self.help.setText(tell("lines_at_rim"))
                return
            edges = to_edges(self.picture.lines, report.view, self._gauge.body)
            if edges is not None:
                self._link.ask(SetEdges(edges=edges))
            self.help.setText(tell("lines_help" if edges is not None else "lines_wait"))

    def _show(self, showing: CheckShowing, status: LinkStatus) -> None:
        report = status.report
        if report is not None:
            self.picture.set_view(report.view)
            if not self._touched:
                self._lay_lines(report)
            self.picture.show_guides(showing.roll_deg, drawn=report.edges is not None)
        self.list.show_rows(showing.rows)
        if self._asked_anyway and showing.going is not Going.ON_PURPOSE:
            self._ask_anyway(asked=False)
        asked = self._asked_anyway
        if self._over:
            self.words.say(tell("joining"), tell("going_on"), CheckState.PASS)
        elif asked:
            count = showing.open_count
            key = "anyway_none" if count == 1 else "anyway_some"
            self.words.say(tell(key, count=count), tell("anyway_more"), CheckState.TO_DO)
        else:
            self.words.say(showing.heading, showing.text, showing.standing)
        self.setWindowTitle(tell("title_now", heading=self.words.said[0]))
        self.go_on.setVisible(not asked)
        self.leave_button.setVisible(not asked)
        self.anyway.setVisible(asked)
        self.back.setVisible(asked)
        mark(self.go_on, "ready", showing.going is Going.FREELY)
        self.go_on.setEnabled(showing.going is not Going.NO and not self._over)

    def _lay_lines(self, report: CheckReport) -> None:
        """Lay the lines where they were last time, or where the belt may be."""
        body = self._gauge.body
        lines = None
        if report.edges is not None:
            lines = to_lines(report.edges, report.view, body)
        lines = lines or first_lines(report.view, body)
        if lines != self.picture.lines:
            self.picture.set_lines(lines)

    # ---- what the person does

    def _answer(self, act: Callable[[], None]) -> None:
        """A key that answers; not one that was meant for the page before."""
        if now_ns() - self._since_ns >= STANDS_NS and not self.picture.held:
            act()

    def _ask_anyway(self, *, asked: bool) -> None:
        self._asked_anyway = asked
        self._since_ns = now_ns()

    def _on_lines_moved(self) -> None:
        self._touched = self._to_send = True

    def _on_no_lines(self) -> None:
        self._touched = True
        self._link.ask(SetEdges(edges=None))

    def _on_go_on(self) -> None:
        if self._over or self._asked_anyway:
            return
        if self.showing.going is Going.FREELY:
            self._done(accepted=True)
        elif self.showing.going is Going.ON_PURPOSE:
            self._ask_anyway(asked=True)
            self._show(self.showing, self._link.status())

    def _on_page_down(self) -> None:
        """A presenter's key: goes on, but never past something that is not good."""
        if self.showing.going is Going.FREELY:
            self._on_go_on()

    def _on_anyway(self) -> None:
        if self._asked_anyway and not self._over:
            self._done(accepted=True)

    def _on_back(self) -> None:
        self._ask_anyway(asked=False)
        self._show(self.showing, self._link.status())

    def _on_escape(self) -> None:
        if self._asked_anyway:
            self._on_back()
        else:
            self._on_leave()

    def _on_leave(self) -> None:
        if self._link.status().state is LinkState.JOINED:
            self._done(accepted=False)
        else:
            self.close()

    def _done(self, *, accepted: bool) -> None:
        self._over = True
        self._asked_anyway = False
        self._send_lines(self._link.status().report)
        self._link.ask(CheckDone(accepted=accepted))
        self._show(self.showing, self._link.status())


def _button(key: str) -> QPushButton:
    text = tell(key)
    made = QPushButton(f"{text}  ({tell(f'{key}_keys')})")
    named(made, text, tell(f"{key}_about"))
    made.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    return made


def main(arguments: list[str] | None = None) -> int:
    """Open the window and stay until it is closed."""
    parser = argparse.ArgumentParser(
        prog="feedback.screens.camera_check.window",
        description="The camera check; its station starts it.",
    )
    parser.add_argument("--port", type=int, required=True, help="port of the station's link")
    parser.add_argument("--windowed", action="store_true", help="a window, not the full screen")
    options = parser.parse_args(arguments)
    token = os.environ.pop(TOKEN_VARIABLE, "")
    if not token:
        print(tell("needs_station"), file=sys.stderr)  # noqa: T201 - a message to a person
        return 2
    app = make_app()
    link = LinkClient(options.port, token, Role.SETUP)
    link.start()
    window = SetupWindow(link)
    if options.windowed:
        fit_to_screen(window)
        window.show()
    else:
        fill_screen(window)
    window.activateWindow()
    keep_awake()
    return run_loop(app)


if __name__ == "__main__":
    sys.exit(main())
