"""Keeps the chatter that sound libraries write to the terminal away from the user."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator

_STDERR = 2


@contextlib.contextmanager
def quiet_stderr() -> Iterator[None]:
    """Send what native code writes to file descriptor 2 nowhere, for as long as this lasts.

    Does nothing where there is no such descriptor (a Windows program without a console).
    """
    try:
        kept = os.dup(_STDERR)
    except OSError:
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, _STDERR)
        yield
    finally:
        os.dup2(kept, _STDERR)
        os.close(nowhere)
        os.close(kept)
