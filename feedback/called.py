"""How this program is called here: "beltside", or what was typed where that is another."""

from __future__ import annotations

import os
import pkgutil
import re
from functools import cache
from typing import Final

from feedback import commands

TYPED: Final = "BELTSIDE_TYPED"
"""Environment: what was typed; the launcher sets it where there is no command "beltside"."""


def as_called(text: str) -> str:
    """The text, with each command in it as it can be typed here."""
    typed = os.environ.get(TYPED, "")
    return _commands().sub(lambda _: f"{typed} ", text) if typed else text


@cache
def _commands() -> re.Pattern[str]:
    names = "|".join(sorted(module.name for module in pkgutil.iter_modules(commands.__path__)))
    return re.compile(rf"(?<![\w./-])beltside (?=(?:{names})\b)")
