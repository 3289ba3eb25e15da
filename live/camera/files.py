"""Sources that do not run by themselves: a video file, and a list of frames."""

from __future__ import annotations

import shutil
import stat
import tempfile
import time
import weakref
from collections.abc import Iterable
from pathlib import Path
from typing import Final

import numpy as np

from live.camera.named_pipe import spool
from live.camera.opencv import cv2
from shared.clock import now_ns
from shared.flow import Frame
from shared.language import told
from shared.problems import UserError, file_error
from shared.units import NS_PER_MS, NS_PER_S

FALLBACK_FPS: Final = 30.0
"""For a file that does not state its frame rate (common practice, no source)."""

MOST_OBLONG: Final = 4.0
"""The most oblong pixels that are in use are those of half-wide HD and of anamorphic SD: up to 2.2
(from memory)."""


class FileSource:
    """A video file from its first frame on.

    As if live, a frame is given when it is due by the file's own time stamps, and
    ``captured_ns`` is the clock's reading then; who reads too late gets the next ones at once.
    Else frames are given as fast as asked for, and ``captured_ns`` is the file's own time from
    0 on. Looped, time and index go on as if the file did.
    """

    may_return = False

    def __init__(self, path: Path, as_live: bool, loop: bool = False) -> None:
        self._named = path
        self.path = path
        """Where the pictures are read from: what came through a pipe is elsewhere, once open."""
        self._as_live = as_live
        self._loop = loop
        self._capture: cv2.VideoCapture | None = None
        self._square: tuple[int, int] | None = None
        """Size in square pixels, where the file's own are not."""
        self._frames = 0
        self._base_ns: int | None = None
        """Time of the file's stamp 0 on the source's own time line; None before a first frame."""
        self._last_ns: int | None = None
        self._clock_at_zero_ns: int | None = None
        self.nominal_fps: float | None = None
        self.size: tuple[int, int] | None = None
        self.frame_count = 0
        """Frames in the file as far as it says; 0 where unknown. Not exact for every format."""

    def describe(self) -> str:
        """Name it to the user."""
        return str(self._named)

    def open(self) -> None:
        """Open the file; what comes through a pipe is put into a file first.

        Raises UserError (``file_missing``, ``file_unreadable``, ``video_unreadable``,
        ``single_picture``, ``pipe_unusable``).
        """
        if self._capture is not None:
            return
        self._find()
        first = self._start()
        ready, image = first.read()
        if not ready:
            raise UserError("video_unreadable", source=self.describe())
        if not first.grab():
            raise UserError("single_picture", source=self.describe())
        capture = self._start()
        frames_per_s = capture.get(cv2.CAP_PROP_FPS)
        self.nominal_fps = frames_per_s if 1 <= frames_per_s <= 1000 else None
        self.frame_count = max(0, int(capture.get(cv2.CAP_PROP_FRAME_COUNT)))
        self._square = square_size(
            (image.shape[1], image.shape[0]),
            capture.get(cv2.CAP_PROP_SAR_NUM),
            capture.get(cv2.CAP_PROP_SAR_DEN),
        )
        self.size = self._square or (image.shape[1], image.shape[0])
        self._capture = capture

    def _find(self) -> None:
        """See that there is a file, not something that has no end."""
        try:
            mode = self.path.stat().st_mode
        except FileNotFoundError as error:
            raise UserError("file_missing", path=str(self.path)) from error
        except (OSError, ValueError) as error:  # a name may hold what no name may hold
            raise file_error("file_unreadable", self.path, error) from error
        if stat.S_ISFIFO(mode):
            self.path = spool(self._named, self._own_folder())
        elif not stat.S_ISREG(mode):
            raise UserError("video_unreadable", source=self.describe())

    def _own_folder(self) -> Path:
        """A folder that goes with this source, or with the program."""
        folder = tempfile.mkdtemp(prefix="beltside-")
        weakref.finalize(self, shutil.rmtree, folder, ignore_errors=True)
        return Path(folder)

    @property
    def seconds(self) -> float:
        """How long it is as far as it says, once open; 0 where unknown."""
        return self.frame_count / (self.nominal_fps or FALLBACK_FPS)

    def _start(self) -> cv2.VideoCapture:
        """The file at its first frame. The full path keeps FFmpeg from reading it as a URL."""
        return cv2.VideoCapture(str(self.path.resolve()), cv2.CAP_FFMPEG)

    def read(self, from_ns: int = 0) -> Frame | None:
        """The next frame, when it is due; None after the last.

        Frames before ``from_ns`` of the file's own time are passed over, but counted.
        """
        at_ns = self._go_on()
        while at_ns is not None and at_ns < from_ns:
            at_ns = self._go_on()
        if self._capture is None or at_ns is None:
            return None
        _, image = self._capture.retrieve()
        if self._square is not None:
            image = cv2.resize(image, self._square, interpolation=cv2.INTER_LINEAR)
        return Frame(
            image=np.asarray(image, np.uint8),
            captured_ns=self._wait_until_due(at_ns) if self._as_live else at_ns,
            index=self._frames - 1,
        )

    def _go_on(self) -> int | None:
        """To the next frame, without its picture; its time, None after the last."""
        if self._capture is None:
            return None
        ready = self._capture.grab()
        if not ready and self._loop:
            self._capture, self._base_ns = self._start(), None
            ready = self._capture.grab()
        if not ready:
            return None
        self._frames += 1
        return self._time_of(self._capture)

    def _time_of(self, capture: cv2.VideoCapture) -> int:
        """Time of the frame just read, from 0 on, ever growing."""
        stamp_ns = round(capture.get(cv2.CAP_PROP_POS_MSEC) * NS_PER_MS)
        next_ns = 0
        if self._last_ns is not None:
            next_ns = self._last_ns + round(NS_PER_S / (self.nominal_fps or FALLBACK_FPS))
        if self._base_ns is None:
            self._base_ns = next_ns - stamp_ns
        at_ns = self._base_ns + stamp_ns
        if self._last_ns is not None and at_ns <= self._last_ns:
            at_ns = next_ns  # the file's stamps stand still or go back
        self._last_ns = at_ns
        return at_ns

    def _wait_until_due(self, at_ns: int) -> int:
        arrived_ns = now_ns()
        if self._clock_at_zero_ns is None:
            self._clock_at_zero_ns = arrived_ns - at_ns
        early_ns = self._clock_at_zero_ns + at_ns - arrived_ns
        if early_ns <= 0:
            return arrived_ns
        time.sleep(early_ns / NS_PER_S)
        return now_ns()

    def close(self) -> None:
        """Let go of the file."""
        self._capture = None


def square_size(size: tuple[int, int], wide: float, high: float) -> tuple[int, int] | None:
    """The size with square pixels of a picture whose pixels are so wide and high; None if it is so.

    Nothing is made smaller. What no file would mean (a shape beyond 1 to 4) is passed over.
    """
    if not (wide > 0.0 and high > 0.0) or wide == high:
        return None
    shape = wide / high
    if not 1 / MOST_OBLONG <= shape <= MOST_OBLONG:
        return None
    width, height = size
    square = (round(width * shape), height) if shape > 1.0 else (width, round(height / shape))
    return None if square == size else square


class ListSource:
    """Frames that are there already, stamps and all."""

    nominal_fps: float | None = None
    size: tuple[int, int] | None = None
    may_return = False

    def __init__(self, frames: Iterable[Frame]) -> None:
        self._frames = iter(frames)

    def describe(self) -> str:
        """Name it to the user."""
        return told("a list of frames")

    def open(self) -> None:
        """Nothing to do."""

    def read(self) -> Frame | None:
        """The next frame, or None after the last."""
        return next(self._frames, None)

    def close(self) -> None:
        """Nothing to do."""
