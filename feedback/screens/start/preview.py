"""A camera's picture in the start window, from a process of its own that has the camera.

This window never opens a camera: what does is ended, and waited for, before a session takes it.
"""

from __future__ import annotations

import os
import struct
import sys
from collections.abc import Sequence
from typing import Final

from PyQt6.QtCore import QObject, QProcess, QProcessEnvironment, Qt, pyqtSignal
from PyQt6.QtGui import QImage, QPixmap, QResizeEvent
from PyQt6.QtWidgets import QLabel, QSizePolicy

from shared.child_environment import child_environment
from shared.language import _
from shared.plain_text import plain_line

_PROGRAM: Final = ("-m", "feedback.camera_check.preview")
_LETS_GO_MS: Final = 1_500
_LARGEST_BYTES: Final = 4_000_000
_LONGEST_LINE: Final = 300


class PictureStream:
    """Bytes as they come, cut into pictures (each behind its length in four bytes)."""

    def __init__(self) -> None:
        self._rest = b""
        self.broken = False
        """What came is no stream of ours; nothing more is taken."""

    def take(self, data: bytes) -> list[bytes]:
        """The pictures that are whole now."""
        if self.broken:
            return []
        self._rest += data
        whole: list[bytes] = []
        while len(self._rest) >= 4:
            (length,) = struct.unpack(">I", self._rest[:4])
            if length > _LARGEST_BYTES:
                self.broken, self._rest = True, b""
                break
            if len(self._rest) < 4 + length:
                break
            whole.append(self._rest[4 : 4 + length])
            self._rest = self._rest[4 + length :]
        return whole


class PreviewProcess(QObject):
    """One camera's pictures while they are looked at."""

    picture = pyqtSignal(bytes)
    """A JPEG."""
    failed = pyqtSignal(str)
    """Why there is no picture."""

    def __init__(self, words: Sequence[str], parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._stream = PictureStream()
        self._ending = False
        self._process = QProcess(self)
        self._process.setProgram(sys.executable)
        self._process.setArguments([*_PROGRAM, *words])
        made = QProcessEnvironment()
        for name, value in {**child_environment(os.environ), "NO_COLOR": "1"}.items():
            made.insert(name, value)
        self._process.setProcessEnvironment(made)
        self._process.readyReadStandardOutput.connect(self._read)
        self._process.finished.connect(self._on_finished)
        self._process.start()

    @property
    def running(self) -> bool:
        """Whether it may still have the camera."""
        return self._process.state() is not QProcess.ProcessState.NotRunning

    def end(self) -> None:
        """Let go of the camera; it is free when this returns."""
        self._ending = True
        if not self.running:
            return
        self._process.closeWriteChannel()
        if not self._process.waitForFinished(_LETS_GO_MS):
            self._process.kill()
            self._process.waitForFinished(_LETS_GO_MS)

    def _read(self) -> None:
        pictures = self._stream.take(self._process.readAllStandardOutput().data())
        if pictures and not self._ending:
            self.picture.emit(pictures[-1])

    def _on_finished(self) -> None:
        if self._ending:
            return
        said = self._process.readAllStandardError().data().decode(errors="replace").splitlines()
        lines = [line for one in said if (line := plain_line(one, _LONGEST_LINE).strip())]
        self.failed.emit(" ".join(lines) or _("This camera gives no picture."))


class PreviewPicture(QLabel):
    """A camera's picture, or why there is none."""

    def __init__(self, least_px: tuple[int, int]) -> None:
        super().__init__()
        self._whole = QPixmap()
        self._process: PreviewProcess | None = None
        self.shown = 0
        """Pictures shown since it was last started."""
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(True)
        self.setMinimumSize(*least_px)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(_("The camera's picture"))

    def start(self, words: Sequence[str]) -> None:
        """Show this camera's pictures from now on."""
        self.stop()
        self.shown = 0
        self.setText(_("Opening the camera."))
        self._process = PreviewProcess(words, self)
        self._process.picture.connect(self._show)
        self._process.failed.connect(self._fail)

    def stop(self, text: str = "") -> None:
        """Let go of the camera; it is free when this returns."""
        process, self._process = self._process, None
        if process is not None:
            process.end()
            process.deleteLater()
        self._whole = QPixmap()
        self.clear()
        self.setText(text)

    @property
    def live(self) -> bool:
        """Whether a camera is open for it."""
        return self._process is not None and self._process.running

    def _show(self, jpeg: bytes) -> None:
        image = QImage.fromData(jpeg)
        if image.isNull():
            return
        self.shown += 1
        self._whole = QPixmap.fromImage(image)
        self._fit()

    def _fail(self, why: str) -> None:
        self._whole = QPixmap()
        self.setText(why)

    def _fit(self) -> None:
        if not self._whole.isNull():
            self.setPixmap(
                self._whole.scaled(
                    self.size(),
                    Qt.AspectRatioMode.KeepAspectRatio,
                    Qt.TransformationMode.SmoothTransformation,
                )
            )

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 - Qt's name
        """The picture fills its room."""
        super().resizeEvent(event)
        self._fit()
