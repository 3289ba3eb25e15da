"""Where frames come from: what every source offers, and the sources to choose from."""

from __future__ import annotations

from typing import Protocol

from live.camera.devices import CameraSource, SourceLost, StreamSource
from live.camera.files import FileSource, ListSource
from shared.flow import Frame

__all__ = [
    "CameraSource",
    "FileSource",
    "FrameSource",
    "ListSource",
    "SourceLost",
    "StreamSource",
]


class FrameSource(Protocol):
    """Something that gives one frame after another.

    A source is used by one thread at a time, with one exception: ``open`` may be called while
    another thread still hangs in a ``read`` whose outcome nobody waits for any more.
    """

    nominal_fps: float | None
    """Frames a second as stated by the device or file; None where unknown."""
    size: tuple[int, int] | None
    """Width and height in pixels; None where unknown."""
    may_return: bool
    """Whether it is worth opening again after a failure."""

    def describe(self) -> str:
        """Name it to the user."""
        ...

    def open(self) -> None:
        """Get ready to read; nothing happens when it is open already. Raises UserError."""
        ...

    def read(self) -> Frame | None:
        """Wait for the next frame; None when the source has ended for good.

        Raises SourceLost when it broke but may come back after ``close`` and ``open``.
        """
        ...

    def close(self) -> None:
        """Let go of the device or file; may be called at any time."""
        ...
