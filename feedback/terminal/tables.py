"""Tables and longer accounts on the terminal: rich, and of a text nothing but its words."""

from __future__ import annotations

import sys
from typing import Any

from rich.console import Console
from rich.text import Text

from feedback.terminal.program_name import as_called
from shared.plain_text import plain_lines


class PlainConsole(Console):
    """Shows strings as they are: no markup, no names of emoji, no codes that steer a terminal."""

    def __init__(self, *, soft_wrap: bool = False, stderr: bool = False) -> None:
        super().__init__(
            file=sys.stderr if stderr else None,
            highlight=False,
            markup=False,
            emoji=False,
            soft_wrap=soft_wrap,
        )

    def render_str(self, text: str, **options: Any) -> Text:
        """Every string that is printed, or stands in a table, comes by here to be measured."""
        return super().render_str(plain_lines(as_called(text)), **options)
