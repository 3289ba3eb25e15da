"""The clinician's console: one or several stations elsewhere, each with the widgets of the panel.

Every station keeps a line with its own Stop at the top of the window, whichever one is open.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QCloseEvent
from PyQt6.QtWidgets import (
    QGridLayout,
    QLabel,
    QPushButton,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from feedback.link.consoles import KnownStation
from feedback.link.directory import Directory
from feedback.link.network_station import usual_name
from feedback.link.pairing import MOST_NAME_LETTERS
from feedback.link.protocol import MAY_ASK
from feedback.screens.clinician.join_station import JoinView, Stations
from feedback.screens.clinician.station_view import PanelLink, StationView
from feedback.screens.widgets.application import make_app, run_loop
from feedback.screens.widgets.design import GAP_PX
from feedback.screens.widgets.help_window import Help
from feedback.screens.widgets.stop_button import StopButton
from feedback.screens.widgets.stop_keys import StopKeys
from feedback.screens.widgets.style import card, label, mark, named, on_control, style
from feedback.texts.clinician import say
from shared.messages import Role
from shared.plain_text import isolated

PICTURES_PER_S = 8.0
SMALLEST_PX = (900, 500)
_LOOK_MS = 250
_STOP_PX = (150, 36)
_WINDOW_PX = (1600, 960)


class ConsoleWindow(QWidget):
    """Shows stations that were joined elsewhere. With one station it is a panel, and no more."""

    def __init__(self) -> None:
        super().__init__()
        self.setWindowTitle(say("console_title"))
        self.manual = Help(self, "network")
        self.setObjectName("ground")
        self.setStyleSheet(style())
        self.setMinimumSize(*SMALLEST_PX)
        self._lines: list[_Line] = []
        self._list = QWidget()
        card(self._list)
        self._list.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._grid = QGridLayout(self._list)
        self._grid.setContentsMargins(12, 6, 8, 6)
        self._grid.setHorizontalSpacing(18)
        self._grid.setColumnStretch(3, 1)
        self._none = label(say("station_none"))
        self._grid.addWidget(self._none, 0, 0)
        self.tabs = QTabWidget()
        named(self.tabs, say("stations"))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(GAP_PX, GAP_PX, GAP_PX, GAP_PX)
        layout.setSpacing(GAP_PX)
        layout.addWidget(self._list)
        layout.addWidget(self.tabs, 1)
        self.joining: JoinView | None = None
        self._joined: set[str] = set()
        self._join: Callable[[KnownStation], None] = lambda _: None
        self._timer = QTimer(self)
        self._timer.timeout.connect(self._look)
        self._timer.start(_LOOK_MS)
        self._look()
        StopKeys(self, self._ask_stop)

    @property
    def views(self) -> list[StationView]:
        """The stations that are shown, in order."""
        return [line.view for line in self._lines]

    def add_station(self, name: str, link: PanelLink) -> StationView:
        """Show one more station under the name that it is known by here; the window closes it."""
        view = StationView(link, MAY_ASK[Role.CONSOLE], PICTURES_PER_S)
        self.tabs.insertTab(len(self._lines), view, name)
        line = _Line(name, view)
        row = len(self._lines) + 1
        line.open.clicked.connect(lambda: self.tabs.setCurrentWidget(view))
        for column, widget in enumerate((line.open, line.runner, line.state, line.focus)):
            self._grid.addWidget(widget, row, column)
        self._grid.addWidget(line.stop, row, 4)
        self._lines.append(line)
        self._look()
        if len(self._lines) == 1:
            view.head.stop.setFocus()
        return view

    def let_join(
        self, stations: Stations, name: str, link_to: Callable[[KnownStation], PanelLink]
    ) -> None:
        """Let more stations be opened; ``name`` is what this console is called when it pairs."""

        def join(station: KnownStation) -> None:
            if station.fingerprint not in self._joined:
                self._joined.add(station.fingerprint)
                view = self.add_station(station.name, link_to(station))
                self.tabs.setCurrentWidget(view)

        self._join = join
        self.joining = JoinView(stations, name, join, lambda: self._joined)
        self.tabs.addTab(self.joining, say("join_page"))
        self._look()

    def open_station(self, station: KnownStation) -> None:
        """Open one that is paired; only after :meth:`let_join`."""
        self._join(station)

    def stop_button(self, number: int) -> StopButton:
        """The Stop of a station's line, from 0."""
        return self._lines[number].stop

    def line_texts(self, number: int) -> tuple[str, str, str]:
        """What a station's line says, from 0: runner, state, cued value."""
        line = self._lines[number]
        return line.runner.text(), line.state.text(), line.focus.text()

    def _ask_stop(self, has_keys: QWidget) -> bool:
        """Stop the station that has the keys; with the list or the tabs, the one that is open."""
        here: QWidget | None = has_keys
        while here is not None and not isinstance(here, StationView):
            here = here.parentWidget()
        view = here or self.tabs.currentWidget()
        return isinstance(view, StationView) and view.ask_stop()

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 - Qt's name
        """Leave all stations; their sessions go on."""
        self._timer.stop()
        for line in self._lines:
            line.view.leave()
        super().closeEvent(event)

    def _look(self) -> None:
        several = self.tabs.count() > 1
        self._none.setVisible(not self._lines)
        self._list.setVisible(len(self._lines) != 1)
        self.tabs.setVisible(self.tabs.count() > 0)
        bar = self.tabs.tabBar()
        if bar is not None:
            bar.setVisible(several)
        for line in self._lines:
            line.refresh()
            at = self.tabs.indexOf(line.view)
            title = line.name
            if line.view.showing.name:
                title = say(
                    "station_tab",
                    station=isolated(line.name),
                    runner=isolated(line.view.showing.name),
                )
            title = on_control(title)
            if self.tabs.tabText(at) != title:
                self.tabs.setTabText(at, title)


class _Line:
    """One station in one line: open it, how it stands, and Stop."""

    def __init__(self, name: str, view: StationView) -> None:
        self.name = name
        self.view = view
        self.open = QPushButton(on_control(name))
        named(self.open, say("station_open", station=name))
        self.runner, self.state, self.focus = label("", "strong"), label(), label()
        self.stop = StopButton("", _STOP_PX, 17)
        self.stop.stop.connect(view.ask_stop)

    def refresh(self) -> None:
        """Show how the station stands."""
        showing = self.view.showing
        self._say(self.runner, showing.name, well=True, old=showing.old)
        state = f"{showing.state} · {showing.link_short}" if showing.link_short else showing.state
        well = showing.state_well and showing.link.well
        self._say(self.state, state, well=well, old=False)
        self._say(self.focus, showing.focus, well=True, old=showing.old)
        self.stop.refresh(stoppable=showing.stoppable)
        about = say("stop_one_about", name=showing.name or self.name)
        named(self.stop, say("stop_one", name=showing.name or self.name), about)

    @staticmethod
    def _say(place: QLabel, text: str, *, well: bool, old: bool) -> None:
        place.setText(text)
        mark(place, "well", well)
        mark(place, "old", old)


def show(directory: Directory, chosen: tuple[KnownStation, ...], *, windowed: bool = False) -> int:
    """Open the console on these stations and stay until it is closed; returns an exit code.

    The window finds and pairs more of them through ``directory``, which the caller closes.
    """
    app = make_app()
    window = ConsoleWindow()
    window.let_join(directory, usual_name(MOST_NAME_LETTERS), directory.join)
    for station in chosen:
        window.open_station(station)
    window.tabs.setCurrentIndex(0)
    if not chosen and window.joining is not None:
        window.joining.list.setFocus()
    if windowed:
        window.resize(*_WINDOW_PX)
        window.show()
    else:
        screen = app.primaryScreen()
        if screen is not None:  # without a window manager nobody else makes it large
            window.setGeometry(screen.availableGeometry())
        window.showMaximized()
    try:
        return run_loop(app)
    finally:
        window.close()
