"""Has Stop heard in windows where something is typed, and takes the keys back from a text field."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import QEvent, QObject, QTimer, pyqtSignal
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtWidgets import QApplication, QWidget

from feedback.screens.widgets.key_kinds import stops_beside_typing

GIVE_BACK_MS: Final = 5_000
"""A text field in which nothing was typed for so long has the keys no more."""
_USES: Final = frozenset(
    {
        QEvent.Type.KeyPress,
        QEvent.Type.InputMethod,
        QEvent.Type.MouseButtonPress,
        QEvent.Type.FocusIn,
    }
)


class StopKeys(QObject):
    """Looks at every key of one window before its controls do, so that none of them swallows Stop.

    ``stop`` is called with the control that has the keys, and returns whether there was anything
    to stop; where there was not, the key is the control's.
    """

    def __init__(self, window: QWidget, stop: Callable[[QWidget], bool]) -> None:
        super().__init__(window)
        self._window, self._stop = window, stop
        app = QApplication.instance()
        if app is not None:
            app.installEventFilter(self)
            # while Python and Qt are taken apart there is nobody left who could be asked
            app.aboutToQuit.connect(self._leave)

    def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: N802
        """Stop for a key that stops. A menu that is open closes by the same key."""
        if event is None or event.type() is not QEvent.Type.KeyPress:
            return False
        if not isinstance(event, QKeyEvent) or not isinstance(watched, QWidget):
            return False
        if not stops_beside_typing(event) or not self._holds(watched):
            return False
        if not event.isAutoRepeat() and not self._stop(watched):
            return False
        event.accept()
        return QApplication.activePopupWidget() is None

    def _leave(self) -> None:
        app = QApplication.instance()
        if app is not None:
            app.removeEventFilter(self)

    def _holds(self, widget: QWidget) -> bool:
        """Whether it stands in the window, or in a menu that was opened from there."""
        here: QWidget | None = widget
        while here is not None:
            if here is self._window:
                return True
            here = here.parentWidget()
        return False


class KeysBack(QObject):
    """Gives the keys of a text field to ``heir`` once nothing was typed for a while.

    Letters, Space and Return are the field's while it has the keys, and a pedal may send those.
    """

    gave = pyqtSignal()
    """The field has lost the keys for want of typing."""

    def __init__(self, field: QWidget, heir: QWidget) -> None:
        super().__init__(field)
        self._field, self._heir = field, heir
        self.timer = QTimer(self)
        self.timer.setSingleShot(True)
        self.timer.setInterval(GIVE_BACK_MS)
        self.timer.timeout.connect(self._give)
        field.installEventFilter(self)

    def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: ARG002, N802
        """Any use of the field begins the time anew."""
        if event is not None and event.type() in _USES:
            self.timer.start()
        return False

    def _give(self) -> None:
        if self._field.hasFocus() and self._heir.isEnabled():
            self._heir.setFocus()
            self.gave.emit()
