"""Shows one camera's picture to the window that started it: a program of its own.

It ends, and lets go of the camera, as soon as its stdin ends. Pictures go out on stdout, each a
JPEG behind its length in four bytes, the highest first.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import struct
import sys
import threading
import time
from pathlib import Path
from typing import BinaryIO, Final

from feedback.demo import demo_clip
from feedback.terminal.guard import OK, guarded, say
from live.camera.opencv import cv2
from live.camera.sources import CameraSource, FileSource, FrameSource, SourceLost, StreamSource
from shared.flow import View
from shared.problems import UserError
from shared.units import NS_PER_S

WIDTH_PX: Final = 480
PICTURES_PER_S: Final = 12
_QUALITY: Final = 75
_LET_GO_S: Final = 1.0
_STDIN: Final = 0
_NUMBERS: Final = range(6)
"""Tried where the system does not name its cameras: more than six are rare (our choice)."""


def main(arguments: list[str] | None = None) -> int:
    """Show pictures until stdin ends; 1 with the reason on stderr where there are none."""
    parser = argparse.ArgumentParser(
        prog="feedback.camera_check.preview", description="A camera's picture; for the program."
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--camera", type=int)
    which.add_argument("--stream")
    which.add_argument("--file")
    which.add_argument("--clip", choices=[view.value for view in View])
    which.add_argument("--probe", action="store_true", help="which camera numbers give pictures")
    parser.add_argument("--loop", action="store_true", help="as everywhere; a preview always does")
    options = parser.parse_args(arguments)
    out = sys.stdout.buffer  # as it is: the guard's own takes text alone

    def work() -> int:
        if options.probe:
            _probe()
            return OK
        ended = threading.Event()
        threading.Thread(target=_wait_for_end, args=(ended,), daemon=True).start()
        source = _source(options)
        source.open()
        try:
            _show(source, out, ended)
        except BrokenPipeError:  # the window is gone
            os._exit(OK)
        finally:
            source.close()
        return OK

    return guarded(work, is_program=arguments is None)


def _source(options: argparse.Namespace) -> FrameSource:
    if options.stream is not None:
        return StreamSource(options.stream)
    if options.file is not None:
        return FileSource(Path(options.file), as_live=True, loop=True)
    if options.clip is not None:
        return FileSource(demo_clip(View(options.clip)), as_live=True, loop=True)
    return CameraSource(options.camera)


def _show(source: FrameSource, out: BinaryIO, ended: threading.Event) -> None:
    shown_ns = 0
    while not ended.is_set():
        try:
            frame = source.read()
        except SourceLost:
            source.close()
            source.open()  # a camera that is gone is told of by this
            continue
        if frame is None:
            return
        # All are read, or old pictures would pile up; not all are shown.
        if frame.captured_ns - shown_ns < NS_PER_S // PICTURES_PER_S:
            continue
        shown_ns = frame.captured_ns
        height, width = frame.image.shape[:2]
        if width > WIDTH_PX:
            size = (WIDTH_PX, max(1, round(height * WIDTH_PX / width)))
            image = cv2.resize(frame.image, size, interpolation=cv2.INTER_AREA)
        else:
            image = frame.image
        done, jpeg = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
        if done:
            data = jpeg.tobytes()
            out.write(struct.pack(">I", len(data)) + data)
            out.flush()


def _wait_for_end(ended: threading.Event) -> None:
    """A read that hangs, as of a camera that answers no more, may not keep the camera."""
    with contextlib.suppress(OSError):
        while os.read(_STDIN, 1024):  # not by Python's own buffer, which is locked meanwhile
            pass
    ended.set()
    time.sleep(_LET_GO_S)
    os._exit(OK)


def _probe() -> None:
    for number in _NUMBERS:
        source = CameraSource(number)
        try:
            source.open()
        except UserError:
            continue
        source.close()
        say(json.dumps({"number": number}))


if __name__ == "__main__":
    sys.exit(main())
