"""Takes a secret out of the program's own command line, which other users may list (Linux)."""

from __future__ import annotations

from pathlib import Path
from typing import Final

_ME: Final = Path("/proc/self")
_ARG_START: Final = 45
"""Place of the first byte's address among the fields behind the name (proc_pid_stat(5): 48)."""
_COVER: Final = b"x"


def hide_argument(secret: str) -> bool:
    """Have the list of processes show x for each letter; whether that could be done.

    Until this is called anybody can have read it. ``False`` where the system does not let a program
    write there: on other systems than Linux, or without the right to read its own memory.
    """
    word = secret.encode()
    if not word:
        return False
    try:
        fields = (_ME / "stat").read_bytes().rpartition(b")")[2].split()
        start, end = int(fields[_ARG_START]), int(fields[_ARG_START + 1])
        with (_ME / "mem").open("r+b", buffering=0) as memory:
            memory.seek(start)
            shown = memory.read(end - start)
            memory.seek(start)
            memory.write(_covered(shown, word))
        left = (_ME / "cmdline").read_bytes().split(b"\0")
        return not any(_is_it(part, word) for part in left)
    except (OSError, ValueError, IndexError, OverflowError):
        return False


def _covered(shown: bytes, word: bytes) -> bytes:
    """The arguments, each as long as before."""
    cover = _COVER * len(word)
    return b"\0".join(
        part[: -len(word)] + cover if _is_it(part, word) else part for part in shown.split(b"\0")
    )


def _is_it(part: bytes, word: bytes) -> bool:
    """Whether an argument is that word, or an option with it."""
    return part == word or part.endswith(b"=" + word)
