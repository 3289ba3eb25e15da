"""One camera on the page of the cameras: picture, name, and whether it is the chosen one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QFrame, QPushButton, QVBoxLayout, QWidget

from feedback.screens.start.camera_model import title_of
from feedback.screens.start.preview import PreviewPicture
from feedback.screens.widgets.style import card, named, on_control
from feedback.storage.cameras import CameraChoice
from shared.language import _

_PICTURE_PX: Final = (180, 135)


class CameraTile(QFrame):
    """A picture with a button below it, which chooses that camera; more may stand between."""

    def __init__(
        self,
        title: str,
        choose: Callable[[], None],
        choice: CameraChoice | None = None,
        more: QWidget | None = None,
        empty: str = "",
    ) -> None:
        super().__init__()
        card(self)
        self.choice = choice
        self._empty = empty
        self.picture = PreviewPicture(_PICTURE_PX)
        self.picture.stop(empty)
        self.button = QPushButton(on_control(title))
        self.button.setCheckable(True)
        self.button.setAutoExclusive(False)
        self.button.setAutoDefault(True)
        named(self.button, title, _("Choose this camera"))
        self.button.clicked.connect(lambda: choose())
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 12, 12, 12)
        column.setSpacing(8)
        column.addWidget(self.picture, 1)
        if more is not None:
            column.addWidget(more, 0, Qt.AlignmentFlag.AlignTop)
        column.addWidget(self.button)
        self._show_choice()

    def take(self, choice: CameraChoice) -> None:
        """It stands for this camera now; its picture is shown."""
        self.choice = choice
        self._show_choice()
        self.start()

    def start(self) -> None:
        """Show its picture."""
        if self.choice is not None:
            self.picture.start(self.choice.words)

    def stop(self) -> None:
        """Let go of its camera; it is free when this returns."""
        self.picture.stop("" if self.choice is not None else self._empty)

    def mark(self, *, chosen: bool) -> None:
        """Show whether it is the chosen one."""
        self.button.setChecked(chosen)

    def _show_choice(self) -> None:
        self.button.setEnabled(self.choice is not None)
        if self.choice is not None:
            title = title_of(self.choice)
            self.button.setText(on_control(self.fontMetrics().elidedText(
                title, Qt.TextElideMode.ElideMiddle, 230)))  # fmt: skip
            named(self.button, title, _("Choose this camera"))
