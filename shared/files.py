"""Saving files so that a crash never leaves half a file, and nobody else can read them."""

from __future__ import annotations

import contextlib
import os
import re
import stat
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from shared.problems import file_error

if sys.platform != "win32":
    import fcntl

_HALF: Final = re.compile(r"\.(?P<name>.+)\.[a-z0-9_]{8}")
"""A file that is being saved, or was when its program died; as :mod:`tempfile` names it."""
_OTHERS: Final = 0o077
"""What anybody but the owner may do."""


def save_atomically(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write ``content`` so that ``path`` holds either the old or the new bytes, never a part.

    The file is readable by its owner only, or as ``mode`` says. Raises UserError ``save_failed``.
    """
    try:
        private_folder(path.parent)
        try:
            _save(path, content, mode)
        except FileNotFoundError:  # taken for one that a dead program has left
            _save(path, content, mode)
    except OSError as error:
        raise file_error("save_failed", path, error) from error


def _save(path: Path, content: bytes, mode: int) -> None:
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            _claim(file.fileno())
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
            if mode != 0o600:
                os.chmod(temporary, mode)  # noqa: PTH101 - a name, not a Path
            if sys.platform != "win32":  # which renames no file that is open
                os.replace(temporary, path)
        if sys.platform == "win32":
            os.replace(temporary, path)
    except OSError:
        with contextlib.suppress(OSError):
            os.unlink(temporary)
        raise


def private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, open to their owner only.

    Whatever the umask says. Raises OSError.
    """
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    for one in reversed(missing):
        one.mkdir(mode=0o700, exist_ok=True)


def half_saved(folder: Path) -> Iterator[Path]:
    """Files anywhere below a folder that a program which died was just saving.

    Those that are being saved now are left out, but on Windows.
    """
    for path, status in _all_below(folder):
        if stat.S_ISREG(status.st_mode) and _HALF.fullmatch(path.name) and not _is_claimed(path):
            yield path


def mend_privacy(folder: Path) -> tuple[Path, ...]:
    """Take from all others what they may do with a folder and all below it.

    Returns what they can still get at, since it is another user's or lies on a disk that knows no
    owners. Links are not followed. On Windows the folder above says who may.
    """
    if sys.platform == "win32" or not folder.is_dir():
        return ()
    left = []
    for path, status in ((folder, folder.stat()), *_all_below(folder)):
        if stat.S_ISLNK(status.st_mode) or not status.st_mode & _OTHERS:
            continue
        with contextlib.suppress(OSError):
            path.chmod(stat.S_IMODE(status.st_mode) & ~_OTHERS)
        with contextlib.suppress(OSError):
            if path.stat().st_mode & _OTHERS:
                left.append(path)
    return tuple(left)


def _all_below(folder: Path) -> Iterator[tuple[Path, os.stat_result]]:
    try:
        entries = list(os.scandir(folder))
    except OSError:  # missing, or not ours to look into
        return
    for entry in entries:
        with contextlib.suppress(OSError):
            yield Path(entry.path), entry.stat(follow_symlinks=False)
            if entry.is_dir(follow_symlinks=False):
                yield from _all_below(Path(entry.path))


def _claim(handle: int) -> None:
    """Show that a file is being written; the system takes it back when the program dies."""
    if sys.platform != "win32":
        with contextlib.suppress(OSError):  # not every file system knows such claims
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _is_claimed(path: Path) -> bool:
    if sys.platform == "win32":
        return False
    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return True
    finally:
        os.close(handle)
    return False
