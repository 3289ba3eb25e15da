"""Reads files that may be broken: of limited size and depth, and from nothing but ordinary files.

Every TOML and JSON file that a user can lay hands on is read here. Whatever stands in it, what
comes out is a value or a UserError that names the file, and it comes out soon.
"""

from __future__ import annotations

import json
import os
import re
import stat
import tomllib
from pathlib import Path
from typing import Any, BinaryIO, Final, TypeVar

import msgspec

from shared.language import _
from shared.problems import UserError, file_error

MOST_TOML_BYTES: Final = 1_000_000
"""Of profiles, drills, plans, prescriptions and settings; with all notes they take some 50,000."""
MOST_JSON_BYTES: Final = 16_000_000
"""Of baselines, logs, results and lists; two hours of blocks take some 100,000."""
MOST_LINES_BYTES: Final = 4_000_000_000
"""Of the records of sessions, which grow with their length; two hours of landmarks take 500 MB."""
DEEPEST: Final = 30
"""Tables and lists within each other; our own files have 8 at most."""

T = TypeVar("T")

_OPENS: Final = re.compile("\"\"\"|'''|\"|'|#")
_ENDS: Final = {
    '"""': re.compile(r'(?s:[^"\\]++|\\.|"(?!""))*+"""(?:"{0,2})'),
    "'''": re.compile(r"(?s:[^']++|'(?!''))*+'''(?:'{0,2})"),
    '"': re.compile(r'(?:[^"\\\n]++|\\.)*+"'),
    "'": re.compile(r"[^'\n]*+'"),
    "#": re.compile(r"[^\n]*"),
}
_STRUCTURE: Final = re.compile(r"[.\n=,\[\]{}]")
_LONG_NUMBER: Final = re.compile(rb"[0-9]{19}")
_INT_LIMIT: Final = 2**63


def open_regular(path: Path) -> BinaryIO:
    """Open an ordinary file to read; a pipe or a device would give no end, or nothing for ever.

    Raises UserError: ``file_missing`` or ``file_unreadable``.
    """
    try:
        _check_regular(path, path.stat().st_mode)  # some devices do something when opened
        # Should it be another file by now: without O_NONBLOCK opening a pipe waits for its writer.
        flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
        file = os.fdopen(os.open(path, flags), "rb")
    except FileNotFoundError as error:
        raise UserError("file_missing", path=str(path)) from error
    except (OSError, ValueError) as error:  # a name may hold what no name may hold
        raise file_error("file_unreadable", path, error) from error
    try:
        _check_regular(path, os.fstat(file.fileno()).st_mode)
    except UserError:
        file.close()
        raise
    return file


def read_content(path: Path, most_bytes: int = MOST_JSON_BYTES) -> bytes:
    """All of an ordinary file. Raises UserError: ``file_missing`` or ``file_unreadable``."""
    try:
        with open_regular(path) as file:
            content = file.read(most_bytes + 1)
    except (OSError, MemoryError) as error:
        why = getattr(error, "strerror", None) or _("it does not fit into memory")
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    if len(content) > most_bytes:
        why = _("it is larger than {most_bytes} MB").format(most_bytes=most_bytes // 1000000)
        raise UserError("file_unreadable", path=str(path), why=why)
    return content


def read_toml(path: Path) -> dict[str, Any]:
    """Parse a TOML file.

    Raises UserError (``file_missing``, ``file_unreadable``, ``toml_broken``), which names the
    file and, for broken text, the line.
    """
    return read_toml_and_text(path)[0]


def read_toml_and_text(path: Path) -> tuple[dict[str, Any], str]:
    """Like :func:`read_toml`, with the text as it stands in the file."""
    try:
        text = read_content(path, MOST_TOML_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        why = _("it is not text in UTF-8")
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    why = _("tables or lists stand too deep within each other")
    if _is_deep(text):
        raise UserError("toml_broken", path=str(path), why=why)
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UserError("toml_broken", path=str(path), why=str(error)) from error
    except RecursionError as error:
        raise UserError("toml_broken", path=str(path), why=why) from error
    except (ValueError, OverflowError) as error:  # digits without end, a date beyond the calendar
        why = _("a value is too long")
        raise UserError("toml_broken", str(error), path=str(path), why=why) from error
    if fault := _fault_in(table):
        raise UserError("toml_broken", path=str(path), why=fault)
    return table, text


def read_json(path: Path, kind: type[T], what: str) -> T:
    """Read a value of ``kind``; ``what`` says in words what the file should be.

    Raises UserError ``file_missing`` or ``file_unreadable``.
    """
    content = read_content(path)
    try:
        value = msgspec.json.decode(content, type=kind)
        fault = _fault_in(msgspec.json.decode(content))
    except _BROKEN as error:
        why = _("it is not {what}, or of another version").format(what=what)
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error
    if fault:
        raise UserError("file_unreadable", path=str(path), why=fault)
    return value


def read_any(path: Path) -> Any:
    """What a TOML (by its ending) or else a JSON file holds, in plain values. Raises UserError."""
    if path.suffix == ".toml":
        return read_toml(path)
    content = read_content(path)
    try:
        return json.loads(content)
    except _BROKEN as error:
        why = _("it is not JSON")
        raise UserError("file_unreadable", str(error), path=str(path), why=why) from error


def decode_line(line: bytes, decoder: msgspec.json.Decoder[T]) -> T:
    """One line of a record. Raises ValueError, whatever is wrong with it."""
    try:
        value = decoder.decode(line)
        # Plain values are made only where a number is long enough to be beyond the limit.
        fault = _LONG_NUMBER.search(line) and _fault_in(msgspec.json.decode(line))
    except _BROKEN as error:
        raise ValueError(str(error)) from error
    if fault:
        raise ValueError(fault)
    return value


_BROKEN: Final = (
    msgspec.MsgspecError,
    ValueError,  # what is no UTF-8; digits without end
    RecursionError,  # lists within lists
    OverflowError,
    NotImplementedError,  # msgspec, of some numbers beyond 64 bits
)


def _check_regular(path: Path, mode: int) -> None:
    if stat.S_ISREG(mode):
        return
    why = (
        _("it is a directory") if stat.S_ISDIR(mode) else _("it is a pipe or a device, not a file")
    )
    raise UserError("file_unreadable", path=str(path), why=why)


def _is_deep(text: str) -> bool:
    """Whether keys or brackets go too deep; told before the parser sees it.

    For dotted keys (``a.a.a = 1``) its time grows with the square of their length. Where a text
    has an error this stops, as the parser does.
    """
    depth = dots = at = 0
    while True:
        opening = _OPENS.search(text, at)
        until = len(text) if opening is None else opening.start()
        for sign in _STRUCTURE.finditer(text, at, until):
            match sign[0]:
                case ".":
                    dots += 1
                case "[" | "{":
                    depth, dots = depth + 1, 0
                case "]" | "}":
                    depth, dots = max(0, depth - 1), 0
                case _:
                    dots = 0
            if depth > DEEPEST or dots > DEEPEST:
                return True
        if opening is None:
            return False
        end = _ENDS[opening[0]].match(text, opening.end())
        if end is None:
            return False
        at = end.end()


def _fault_in(value: object) -> str:
    """What is beyond the limits in plain values, in words; empty for nothing."""
    level = [value]
    for _level in range(DEEPEST + 1):
        inside: list[object] = []
        for one in level:
            if isinstance(one, dict):
                inside += one.values()
            elif isinstance(one, list):
                inside += one
            elif isinstance(one, int) and not -_INT_LIMIT <= one < _INT_LIMIT:
                return _("a number in it is too large")
        if not inside:
            return ""
        level = inside
    return _("tables or lists stand too deep within each other")
