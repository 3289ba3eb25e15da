"""What to do where something cannot be saved: part of shared.problems (pure)."""

from __future__ import annotations

import errno
import os
from typing import Final

_FULL: Final = (
    *(os.strerror(code) for code in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)),
    "database or disk is full",  # SQLite's words
)
_FORBIDDEN: Final = (
    *(os.strerror(code) for code in (errno.EACCES, errno.EPERM, errno.EROFS)),
    "attempt to write a readonly database",  # SQLite's words
    "writing there is not allowed",
)
_ADVICE: Final[dict[str, tuple[str, str, str]]] = {
    "save_failed": (
        "Make room on the disk, or choose another folder.",
        "Have writing in this folder allowed to you, or choose another one.",
        "Check that the disk is there, has room and may be written to, or choose another folder.",
    ),
    "journal_failed": (
        "Make room on the disk. During the session it is then saved after all.",
        "Have writing in the program's data folder allowed to you. During the session it is then "
        "saved after all.",
        "Check that the disk is there, has room and may be written to.",
    ),
    "store_unreachable": (
        "Make room on the disk, then try again.",
        "Have writing to this file and its folder allowed to you, then try again.",
        "Check the address in records.toml, the database and the network, then try again.",
    ),
}
"""Where the disk is full, where writing is not allowed, and else."""


def advice(code: str, why: object) -> dict[str, str]:
    """The ``do`` of such a problem; empty for every other one."""
    if code not in _ADVICE:
        return {}
    full, forbidden, other = _ADVICE[code]
    text = str(why)
    if any(words in text for words in _FULL):
        return {"do": full}
    return {"do": forbidden if any(words in text for words in _FORBIDDEN) else other}
