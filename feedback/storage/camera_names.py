"""The cameras of this computer by name, from what Linux says of its video devices."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from shared.plain_text import plain_line

SYSFS: Final = Path("/sys/class/video4linux")
_NODE: Final = re.compile(r"video(\d{1,3})\Z")
_LONGEST: Final = 60


def camera_names(folder: Path = SYSFS) -> tuple[tuple[int, str], ...]:
    """Number and name of each camera, by number; empty where there is none, or no such folder.

    A camera often has several nodes, of which the first, with index 0, gives the pictures and the
    others give details about them (V4L2, "Opening and closing devices", and the kernel's sysfs).
    """
    found: list[tuple[int, str]] = []
    try:
        nodes = list(folder.iterdir())
    except OSError:
        return ()
    for node in nodes:
        match = _NODE.match(node.name)
        if match is None or _read(node / "index", "0") != "0":
            continue
        found.append((int(match[1]), _read(node / "name", node.name)))
    return tuple(sorted(found))


def _read(path: Path, otherwise: str) -> str:
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except OSError:
        return otherwise
    return plain_line(text.strip(), _LONGEST) or otherwise
