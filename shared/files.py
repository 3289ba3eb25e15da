"""Saving files so that a crash never leaves half a file."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from shared.problems import UserError


def save_atomically(path: Path, content: bytes) -> None:
    """Write ``content`` so that ``path`` holds either the old or the new bytes, never a part.

    The file is readable by its owner only. Raises UserError ``save_failed``.
    """
    handle = -1
    temporary = ""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, path)
    except OSError as error:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
