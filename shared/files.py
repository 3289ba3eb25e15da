"""Reading TOML and saving files so that a crash never leaves half a file."""

from __future__ import annotations

import contextlib
import os
import tempfile
import tomllib
from pathlib import Path
from typing import Any, Final

from shared.problems import UserError

_DEEPEST: Final = 30


def read_toml(path: Path) -> dict[str, Any]:
    """Parse a TOML file.

    Raises UserError (``file_missing``, ``file_unreadable``, ``toml_broken``), which names the
    file and, for broken text, the line.
    """
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError as error:
        raise UserError("file_missing", path=str(path)) from error
    except UnicodeDecodeError as error:
        why = "it is not text in UTF-8"
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    except OSError as error:
        why = error.strerror or str(error)
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    try:
        table = tomllib.loads(text)
        _check_depth(table)
    except tomllib.TOMLDecodeError as error:
        raise UserError("toml_broken", path=str(path), why=str(error)) from error
    except (ValueError, RecursionError) as error:  # digits without end, or lists within lists
        raise UserError("toml_broken", path=str(path), why="a value is too long") from error
    return table


def _check_depth(table: dict[str, Any]) -> None:
    """Raises RecursionError for tables within tables beyond all use: ``a.a.a...`` makes them."""
    level: list[Any] = [table]
    for _ in range(_DEEPEST):
        inside = [one.values() if isinstance(one, dict) else one for one in level]
        level = [one for many in inside for one in many if isinstance(one, dict | list)]
        if not level:
            return
    raise RecursionError


def save_atomically(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write ``content`` so that ``path`` holds either the old or the new bytes, never a part.

    The file is readable by its owner only, or as ``mode`` says. Raises UserError ``save_failed``.
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
        if mode != 0o600:
            os.chmod(temporary, mode)  # noqa: PTH101 - a name, not a Path
        os.replace(temporary, path)
    except OSError as error:
        if temporary:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
        why = error.strerror or str(error)
        raise UserError("save_failed", str(error), path=str(path), why=why) from error
