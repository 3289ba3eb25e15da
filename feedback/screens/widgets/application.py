"""What every window of ours begins and ends with: its application, its size, its event loop."""

from __future__ import annotations

import sys
from typing import Final

from PyQt6.QtWidgets import QApplication, QWidget

from feedback.screens.widgets.share_monitor import MonitorPart, share
from feedback.screens.widgets.tidying import tidy_between_events

_FIRST_PX: Final = (1920, 1080)


def make_app() -> QApplication:
    """The application of a window of ours."""
    app = QApplication(sys.argv[:1])
    tidy_between_events(app)
    app.setApplicationName("Beltside")
    app.setStyle("Fusion")  # looks and measures alike everywhere
    return app


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


def shared_parts() -> tuple[MonitorPart, MonitorPart] | None:
    """The runner's part and the panel's where there is one monitor only, else None."""
    screens = QApplication.screens()
    if len(screens) != 1:
        return None
    room = screens[0].availableGeometry()
    return share(room.x(), room.y(), room.width(), room.height())


def take_part(window: QWidget, part: MonitorPart) -> None:
    """Have the window stand there."""
    window.setGeometry(part.x, part.y, part.width, part.height)


def fit_to_screen(window: QWidget) -> None:
    """As large as is useful, and never larger than the screen; the runner's is on the first."""
    screens = QApplication.screens()
    screen = screens[-1] if screens else None
    width, height = _FIRST_PX
    if screen is not None:
        room = screen.availableGeometry()
        width, height = min(width, room.width()), min(height, room.height())
        window.move(room.topLeft())
    window.resize(width, height)


def fill_screen(window: QWidget) -> None:
    """Show it on the whole of the first screen."""
    screen = QApplication.primaryScreen()
    if screen is not None:  # without a window manager nobody else makes it large
        window.setGeometry(screen.geometry())
    window.showFullScreen()
