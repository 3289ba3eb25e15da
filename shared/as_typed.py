"""How a name or a path is typed as one word of a command line (pure)."""

from __future__ import annotations

import os
import shlex


def as_typed(word: object) -> str:
    """As it must stand there: with quotes where it has blanks or signs that a shell would take."""
    text = str(word)
    if os.name != "nt":
        return shlex.quote(text)
    plain = text.replace("\\", "/").replace(":", "")
    return text if shlex.quote(plain) == plain else f'"{text}"'
