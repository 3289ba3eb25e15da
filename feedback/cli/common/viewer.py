"""Opens a page in whatever this computer shows pages with."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

from feedback.screens.widgets.launch import has_display
from shared.child_environment import outside_environment

_OPENER: Final = "open" if sys.platform == "darwin" else "xdg-open"
_begun: Final[list[subprocess.Popen[bytes]]] = []
"""Held on to, so that none is missed while it runs."""


def open_page(path: Path) -> bool:
    """Hand a page to the system's viewer, without waiting for it; whether there was one.

    False where there is no display, or nothing that opens pages.
    """
    if not has_display(os.environ):
        return False
    try:
        if sys.platform == "win32":
            os.startfile(path)  # noqa: S606 - a page that we have just written
            return True
        opener = shutil.which(_OPENER)
        if opener is None:
            return False
        begun = subprocess.Popen(
            [opener, str(path)],
            env=outside_environment(os.environ),
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
    except OSError:
        return False
    _begun.append(begun)
    return True
