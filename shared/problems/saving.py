"""What to do where something cannot be saved: part of shared.problems (pure)."""

from __future__ import annotations

import errno
import os
from typing import Final

from shared.language import Text, told

_FULL: Final = (
    *(os.strerror(code) for code in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)),
    "database or disk is full",  # SQLite's words
)
_FORBIDDEN: Final = (
    *(os.strerror(code) for code in (errno.EACCES, errno.EPERM, errno.EROFS)),
    "attempt to write a readonly database",  # SQLite's words
    "writing there is not allowed",
)
ADVICE: Final[dict[str, tuple[str, str, str]]] = {
    "save_failed": (
        "Free up disk space, or choose another folder.",
        "Ask for write permission in this folder, or choose another one.",
        "Check that the disk is connected, has free space and is writable, or choose another "
        "folder.",
    ),
    "journal_failed": (
        "Free up disk space. If you do so during the session, it is still saved.",
        "Ask for write permission in the program's data folder. If you get it during the session, "
        "it is still saved.",
        "Check that the disk is connected, has free space and is writable.",
    ),
    "store_unreachable": (
        "Free up disk space, then try again.",
        "Ask for write permission for this file and its folder, then try again.",
        "Check the address in records.toml, the database and the network, then try again.",
    ),
}
"""Where the disk is full, where writing is not allowed, and else."""


def advice(code: str, why: object) -> dict[str, str]:
    """The ``do`` of such a problem; empty for every other one."""
    if code not in ADVICE:
        return {}
    full, forbidden, other = ADVICE[code]
    text = why.said.text if isinstance(why, Text) else str(why)
    if any(words in text for words in _FULL):
        return {"do": told(full)}
    return {"do": told(forbidden if any(words in text for words in _FORBIDDEN) else other)}
