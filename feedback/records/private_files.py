"""Sees at the start of each command that what is kept is its owner's alone and nothing is half."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path
from typing import Final

from feedback.storage.settings import data_folder
from feedback.terminal.guard import log_path
from shared.files import half_saved, mend_privacy
from shared.language import _, _n
from shared.plain_text import plain_lines

_STALE_S: Final = 60.0
"""Older versions do not show that they are saving a file; none takes so long."""


def tidy() -> None:
    """Older versions left folders and files that others could read, a crash half-saved files."""
    folder = data_folder()
    open_to_others = (*mend_privacy(folder), *mend_privacy(log_path().parent))
    if open_to_others:
        others = len(open_to_others) - 1
        said = (
            _n(
                "Note: other users of this computer can get at {path} and {count} more, and that "
                "could not be changed. They are another user's, or lie on a disk that knows no "
                "owners.",
                "Note: other users of this computer can get at {path} and {count} more, and that "
                "could not be changed. They are another user's, or lie on a disk that knows no "
                "owners.",
                others,
            )
            if others
            else _(
                "Note: other users of this computer can get at {path}, and that could not be "
                "changed. They are another user's, or lie on a disk that knows no owners."
            )
        ).format(path=open_to_others[0], count=others)
        sys.stderr.write(plain_lines(f"{said}\n"))
    clear_half_saved(folder, older_than_s=_STALE_S)


def clear_half_saved(folder: Path, older_than_s: float = 0.0) -> int:
    """Delete what was left half saved anywhere below a folder; returns how many files."""
    gone = 0
    for path in list(half_saved(folder)):
        with contextlib.suppress(OSError):
            if time.time() - path.stat().st_mtime >= older_than_s:
                path.unlink()
                gone += 1
    return gone
