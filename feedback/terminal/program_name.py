"""How this program is called here: "beltside", or what was typed where that is another."""

from __future__ import annotations

import os
import pkgutil
import re
from functools import cache
from pathlib import Path
from typing import Final

TYPED: Final = "BELTSIDE_TYPED"
"""Environment: what was typed; the launcher sets it where there is no command "beltside"."""
_COMMANDS: Final = str(Path(__file__).parents[1] / "cli" / "commands")
"""Looked into by its path: what says how a command is typed stands below the commands."""


def as_called(text: str) -> str:
    """The text, with each command in it as it can be typed here."""
    typed = os.environ.get(TYPED, "")
    return _commands().sub(lambda _: f"{typed} ", text) if typed else text


@cache
def _commands() -> re.Pattern[str]:
    names = "|".join(
        sorted(module.name.replace("_", "-") for module in pkgutil.iter_modules([_COMMANDS]))
    )
    return re.compile(rf"(?<![\w./-])beltside (?=(?:{names})\b)")
