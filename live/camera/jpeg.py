"""Pictures made small enough to travel, and videos of them, with opencv."""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.camera.opencv import cv2
from shared.language import told
from shared.problems import UserError, file_error
from shared.units import NS_PER_S

QUALITY: Final = 80
_LITTLE_BYTES: Final = 1_000_000


def jpeg_of(image: NDArray[np.uint8], most_wide_px: int) -> tuple[bytes, int, int]:
    """The picture as JPEG, at most so wide, with its width and height in pixels."""
    height, width = image.shape[:2]
    if width > most_wide_px:
        height = max(1, round(height * most_wide_px / width))
        width = most_wide_px
        image = np.asarray(
            cv2.resize(image, (width, height), interpolation=cv2.INTER_AREA), dtype=np.uint8
        )
    _, encoded = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return encoded.tobytes(), width, height


def write_video(path: Path, pictures: Sequence[tuple[int, bytes]]) -> None:
    """Write JPEG pictures with their stamps (ns) as an MP4 video at their mean rate.

    Two pictures at least. Readable by its owner only; there is either a whole video at ``path``
    or none. Raises UserError ``save_failed``.
    """
    unfinished = path.with_suffix(f".part{path.suffix}")
    try:
        unfinished.touch(mode=0o600)
        unfinished.chmod(0o600)  # also where one was left over; before the first picture is in it
        _write(unfinished, pictures)
        if not _whole(unfinished, len(pictures)):  # the writer itself never says so
            free = shutil.disk_usage(path.parent).free
            why = (
                told("the disk is full")
                if free < _LITTLE_BYTES
                else told("the video was not written whole")
            )
            raise UserError("save_failed", path=str(path), why=why)
        unfinished.replace(path)
    except OSError as error:
        raise file_error("save_failed", path, error) from error
    finally:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)


def _write(path: Path, pictures: Sequence[tuple[int, bytes]]) -> None:
    span_ns = pictures[-1][0] - pictures[0][0]
    frames_per_s = (len(pictures) - 1) * NS_PER_S / max(1, span_ns)
    first = _decoded(pictures[0][1])
    size = (first.shape[1], first.shape[0])
    writer = cv2.VideoWriter(str(path), cv2.VideoWriter.fourcc(*"mp4v"), frames_per_s, size)
    try:
        for _, jpeg in pictures:
            writer.write(_decoded(jpeg))
    finally:
        writer.release()


def _whole(path: Path, count: int) -> bool:
    """Whether the video opens, has so many pictures, and the last of them is there."""
    video = cv2.VideoCapture(str(path))
    try:
        if not video.isOpened() or round(video.get(cv2.CAP_PROP_FRAME_COUNT)) != count:
            return False
        video.set(cv2.CAP_PROP_POS_FRAMES, count - 1)
        return bool(video.read()[0])
    finally:
        video.release()


def _decoded(jpeg: bytes) -> NDArray[np.uint8]:
    image = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    return np.asarray(image, dtype=np.uint8)
