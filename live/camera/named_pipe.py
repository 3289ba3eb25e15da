"""A video that comes through a named pipe, put into a file first, with limits of time and size.

A pipe can be read once only, and a decoder would wait for it for ever.
"""

from __future__ import annotations

import os
import select
import tempfile
from pathlib import Path
from typing import BinaryIO, Final

from shared.clock import now_ns
from shared.language import told
from shared.problems import UserError, reason_of
from shared.units import NS_PER_S

SILENT_S: Final = 10.0
"""So long nothing may come through it; a program that begins to send needs a moment."""
MOST_BYTES: Final = 2_000_000_000
_LOOK_EVERY_S: Final = 0.05
_PIECE_BYTES: Final = 1 << 20


def spool(pipe: Path, folder: Path) -> Path:
    """All that comes through the pipe, in a file in ``folder`` with the pipe's own ending.

    Raises UserError ``pipe_unusable``.
    """
    try:
        file = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
        try:
            handle, name = tempfile.mkstemp(dir=folder, suffix=pipe.suffix)
            with os.fdopen(handle, "wb") as out:
                _copy(pipe, file, out)
        finally:
            os.close(file)
    except OSError as error:
        raise _unusable(pipe, reason_of(error)) from error
    return Path(name)


def _copy(pipe: Path, file: int, out: BinaryIO) -> None:
    """Until the other end closes it; that nobody has opened it yet looks the same as that."""
    size = 0
    heard_ns = now_ns()
    while True:
        select.select([file], [], [], _LOOK_EVERY_S)
        try:
            piece = os.read(file, _PIECE_BYTES)
        except BlockingIOError:  # the other end is there and has sent nothing new
            piece = None
        if piece:
            size += out.write(piece)
            heard_ns = now_ns()
        elif piece is not None and size:
            return
        elif piece is not None:
            select.select([], [], [], _LOOK_EVERY_S)
        if size > MOST_BYTES:
            raise _unusable(
                pipe, told("more than {most_bytes} GB came", most_bytes=MOST_BYTES // 1000000000)
            )
        if now_ns() - heard_ns > SILENT_S * NS_PER_S:
            raise _unusable(pipe, told("nothing came for {silent_s:g} s", silent_s=SILENT_S))


def _unusable(pipe: Path, why: str) -> UserError:
    return UserError("pipe_unusable", source=str(pipe), why=why)
