"""What every window of ours begins and ends with: its application, its size, its event loop."""

from __future__ import annotations

import os
import sys
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QColor, QPalette, QScreen
from PyQt6.QtWidgets import QApplication, QWidget

from feedback.screens.widgets import design, palette
from feedback.screens.widgets.design import APPEARANCE_VARIABLE, Appearance
from feedback.screens.widgets.launch import preferred
from feedback.screens.widgets.share_monitor import MonitorPart, share, share_before
from feedback.screens.widgets.tidying import tidy_between_events

_FIRST_PX: Final = (1920, 1080)


def make_app(*, from_afar: bool = False) -> QApplication:
    """The application of a window of ours; ``from_afar``: a runner reads it from the belt."""
    app = QApplication(sys.argv[:1])
    tidy_between_events(app)
    app.setApplicationName("Beltside")
    app.setStyle("Fusion")  # looks and measures alike everywhere
    wished = os.environ.get(APPEARANCE_VARIABLE) or preferred().appearance
    design.use(design.wanted_appearance(wished, _of_desktop(app), from_afar=from_afar))
    app.setPalette(_plain_palette())
    return app


def _of_desktop(app: QApplication) -> Appearance | None:
    hints = app.styleHints()
    scheme = Qt.ColorScheme.Unknown if hints is None else hints.colorScheme()
    known = {Qt.ColorScheme.Dark: Appearance.DARK, Qt.ColorScheme.Light: Appearance.LIGHT}
    return known.get(scheme)


def _plain_palette() -> QPalette:
    """Colours for what no style sheet of ours reaches, such as the desktop's own dialogs."""
    text, plate, chosen = palette.CARD_TEXT, palette.PLATE_TEXT, palette.CHOSEN
    role, made = QPalette.ColorRole, QPalette(QColor(plate.on), QColor(palette.ground()))
    for which, colour in (
        (role.WindowText, text.colour),
        (role.Text, text.colour),
        (role.Base, text.on),
        (role.ButtonText, plate.colour),
        (role.Highlight, chosen.on),
        (role.HighlightedText, chosen.colour),
        (role.ToolTipBase, plate.on),
        (role.ToolTipText, plate.colour),
        (role.PlaceholderText, palette.CARD_LABEL.colour),
    ):
        made.setColor(which, QColor(colour))
    return made


def run_loop(app: QApplication) -> int:
    """Stay until the last window is closed; what fails inside is raised here, as anywhere else.

    Left to itself, PyQt would end the process with a traceback.
    """
    failed: list[BaseException] = []

    def on_failure(_kind: type[BaseException], error: BaseException, _trace: object) -> None:
        failed.append(error)
        app.exit(1)

    before, sys.excepthook = sys.excepthook, on_failure
    try:
        code = app.exec()
    finally:
        sys.excepthook = before
    if failed:
        raise failed[0]
    return code


def shared_parts(*, confirmed: bool = True) -> tuple[MonitorPart, MonitorPart] | None:
    """The runner's part and the panel's where there is one monitor only, else None.

    ``confirmed``: the cautions are; until then the panel is a bar below the runner's part.
    """
    screens = QApplication.screens()
    if len(screens) != 1:
        return None
    room = screens[0].availableGeometry()
    way = share if confirmed else share_before
    return way(room.x(), room.y(), room.width(), room.height())


def monitor_names() -> tuple[str, ...]:
    """The names of the monitors, the first one's first."""
    return tuple(screen.name() for screen in QApplication.screens())


def _monitor(name: str, *, last: bool) -> QScreen | None:
    """The monitor of this name; without it the last or the first."""
    screens = QApplication.screens()
    named = next((screen for screen in screens if name and screen.name() == name), None)
    if named is not None or not screens:
        return named
    return screens[-1] if last else QApplication.primaryScreen()


def take_part(window: QWidget, part: MonitorPart) -> None:
    """Have the window stand there."""
    window.setGeometry(part.x, part.y, part.width, part.height)


def fit_to_screen(window: QWidget, monitor: str = "") -> None:
    """As large as is useful, and never larger than the monitor: the one named, or the last.

    The runner's is on the first.
    """
    screen = _monitor(monitor, last=True)
    width, height = _FIRST_PX
    if screen is not None:
        room = screen.availableGeometry()
        width, height = min(width, room.width()), min(height, room.height())
        window.move(room.topLeft())
    window.resize(width, height)


def fill_screen(window: QWidget, monitor: str = "") -> None:
    """Show it on the whole of a monitor: the one named, or the first."""
    screen = _monitor(monitor, last=False)
    if screen is not None:  # without a window manager nobody else makes it large
        window.setGeometry(screen.geometry())
    window.showFullScreen()
