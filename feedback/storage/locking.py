"""One program at a time at what several stations on one data folder read, change and write."""

from __future__ import annotations

import contextlib
import os
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from feedback.storage.folders import make_private
from shared.problems import UserError, file_error

FILE: Final = ".in-use"
WITHIN_S: Final = 10.0
"""Each turn takes milliseconds: who waits for longer waits for something that hangs."""
_AGAIN_S: Final = 0.02
_here = threading.RLock()
_held: set[Path] = set()


@contextlib.contextmanager
def turn(folder: Path, within_s: float = WITHIN_S) -> Iterator[None]:
    """Hold the folder for this program; the turn ends with the program, however it ends.

    Raises UserError ``data_in_use`` where it does not come within that time, ``save_failed``.
    """
    with _here:
        if folder in _held:
            yield
            return
        make_private(folder)
        file = _opened(folder / FILE)
        try:
            _wait(file, folder, within_s)
            _held.add(folder)
            try:
                yield
            finally:
                _held.discard(folder)
        finally:
            os.close(file)  # lets go of it


def _opened(path: Path) -> int:
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)
    except OSError as error:
        raise file_error("save_failed", path, error) from error


def _wait(file: int, folder: Path, within_s: float) -> None:
    until = time.monotonic() + within_s
    while not _taken(file):
        if time.monotonic() >= until:
            raise UserError("data_in_use", path=str(folder), seconds=f"{within_s:g}")
        time.sleep(_AGAIN_S)


if sys.platform == "win32":
    import msvcrt

    def _taken(file: int) -> bool:
        try:
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _taken(file: int) -> bool:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:
            return True  # a folder of a kind that knows no turns: then there is none to wait for
        return True
