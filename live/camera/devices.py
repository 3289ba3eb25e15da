"""Sources that run by themselves: a webcam and a network stream, read as fast as they come."""

from __future__ import annotations

import sys
from typing import Final
from urllib.parse import urlsplit

import numpy as np

from live.camera.opencv import cv2
from shared.clock import now_ns
from shared.flow import Frame
from shared.language import told
from shared.problems import UserError

_BACKENDS: Final = {"linux": cv2.CAP_V4L2, "darwin": cv2.CAP_AVFOUNDATION, "win32": cv2.CAP_MSMF}
LARGEST_PLAIN_PX: Final = 640 * 480
"""Most pixels that USB 2 cameras send uncompressed at 30 pictures a second (common practice, no
source); for more, Motion JPEG is asked for."""
OPEN_TIMEOUT_MS: Final = 3000
READ_TIMEOUT_MS: Final = 1000
"""After a second without a picture a new connection is made: waiting longer for the old one
would end in pictures that are seconds old."""


class SourceLost(Exception):  # noqa: N818  (says what happened; it may mend by itself)
    """No frame can be read now; open the source again. The text says why."""


class _LiveSource:
    """What camera and stream share: frames are stamped when they arrive."""

    may_return = True

    def __init__(self) -> None:
        self._capture: cv2.VideoCapture | None = None
        self._frames = 0
        self.nominal_fps: float | None = None
        self.size: tuple[int, int] | None = None

    def read(self) -> Frame:
        """Wait for the next frame. Raises SourceLost."""
        capture = self._capture
        if capture is None:
            raise SourceLost(told("it is not open"))
        ready, image = capture.read()
        if not ready:
            raise SourceLost(told("it gave no picture"))
        frame = Frame(image=np.asarray(image, np.uint8), captured_ns=now_ns(), index=self._frames)
        self._frames += 1
        return frame

    def close(self) -> None:
        """Let go of it; a read that still hangs keeps the device or connection until it ends."""
        self._capture = None


class CameraSource(_LiveSource):
    """A webcam, by its number."""

    def __init__(
        self, index: int, size: tuple[int, int] = (640, 480), frames_per_s: float = 30.0
    ) -> None:
        """Ask camera ``index`` for pictures of ``size`` (width, height), which it may not have."""
        super().__init__()
        self._index = index
        self._asked = (*size, frames_per_s)

    def describe(self) -> str:
        """Name it to the user."""
        return f"camera {self._index}"

    def open(self) -> None:
        """Start the camera. Raises UserError ``camera_missing``."""
        if self._capture is not None:
            return
        capture = cv2.VideoCapture(self._index, _BACKENDS.get(sys.platform, cv2.CAP_ANY))
        width, height, frames_per_s = self._asked
        if capture.isOpened():
            if width * height > LARGEST_PLAIN_PX:  # the coding must be set before the size
                capture.set(cv2.CAP_PROP_FOURCC, cv2.VideoWriter.fourcc(*"MJPG"))
            capture.set(cv2.CAP_PROP_FRAME_WIDTH, width)
            capture.set(cv2.CAP_PROP_FRAME_HEIGHT, height)
            capture.set(cv2.CAP_PROP_FPS, frames_per_s)
            capture.set(cv2.CAP_PROP_BUFFERSIZE, 1)
        # A camera that another program uses may open and then give nothing.
        ready, image = capture.read()
        if not ready:
            raise UserError("camera_missing", source=self._index)
        self.size = (image.shape[1], image.shape[0])
        self.nominal_fps = capture.get(cv2.CAP_PROP_FPS) or None
        self._capture = capture


class StreamSource(_LiveSource):
    """A network camera, by its address: Motion JPEG over HTTP, or what else FFmpeg opens.

    It must be read without a pause, or old frames pile up in the network's buffers.
    """

    def __init__(self, url: str) -> None:
        super().__init__()
        self._url = url

    def describe(self) -> str:
        """Name it to the user, without a user name or password in the address."""
        parts = urlsplit(self._url)
        return parts._replace(netloc=parts.netloc.rpartition("@")[2]).geturl()

    def open(self) -> None:
        """Connect. Raises UserError ``stream_missing``."""
        if self._capture is not None:
            return
        # One decoding thread: with more, FFmpeg holds frames back to work on them side by side.
        settings = (
            *(cv2.CAP_PROP_OPEN_TIMEOUT_MSEC, OPEN_TIMEOUT_MS),
            *(cv2.CAP_PROP_READ_TIMEOUT_MSEC, READ_TIMEOUT_MS),
            *(cv2.CAP_PROP_N_THREADS, 1),
        )
        capture = cv2.VideoCapture(self._url, cv2.CAP_FFMPEG, settings)
        if not capture.isOpened():
            raise UserError("stream_missing", source=self.describe())
        width = int(capture.get(cv2.CAP_PROP_FRAME_WIDTH))
        height = int(capture.get(cv2.CAP_PROP_FRAME_HEIGHT))
        self.size = (width, height) if width and height else None
        self._capture = capture
