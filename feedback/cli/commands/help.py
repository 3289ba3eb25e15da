"""``beltside help``: the help pages, as plain text on the terminal."""

from __future__ import annotations

import argparse
import re
import textwrap
from typing import Final

from feedback.help import TOPICS, page
from feedback.terminal.guard import OK
from feedback.terminal.program_name import as_called
from feedback.terminal.tables import PlainConsole
from shared.language import _

WIDEST: Final = 90
"""Letters in a line, at most: longer ones are hard to read on a wide terminal."""
_TYPED: Final = re.compile(r"`([^`]+)`")
_ITEM: Final = re.compile(r"- |\d+\. ")
_NO_BREAK: Final = "\N{NO-BREAK SPACE}"


def run(options: argparse.Namespace) -> int:
    """Print one page, or the list of topics."""
    # Lines are broken here, and commands that can be copied are not broken at all.
    console = PlainConsole(soft_wrap=True)
    if options.topic is None:
        for topic in TOPICS:
            console.print(f"  {topic:15} {page(topic).title}")
        console.print(_("\nRead one: beltside help TOPIC"))
        return OK
    # Commands are put as they can be typed here before lines are broken, as that changes lengths.
    text = as_called(page(options.topic).text)
    for line in plain(text, min(console.width, WIDEST)):
        console.print(line)
    return OK


def plain(markdown: str, width: int) -> list[str]:
    """The lines of a page without Markdown's marks, no line longer than ``width`` letters.

    Lines of commands keep their own length. Paragraphs and list items are filled anew; a
    heading stands by itself. Tables and links are not used in the pages.
    """
    lines: list[str] = []
    item_before = False
    for number, part in enumerate(re.split(r"(?m)^```\w*\n", markdown)):
        is_code = number % 2 == 1
        blocks = [part] if is_code else re.split(r"\n\n+|\n(?=- |\d+\. )", part.strip("\n"))
        for block in filter(None, blocks):
            item = not is_code and _ITEM.match(block) is not None
            lines += [""] if lines and not (item and item_before) else []
            lines += _indented(block) if is_code else _filled(block, width, is_item=item)
            item_before = item
    return lines


def _indented(commands: str) -> list[str]:
    return [f"    {line}" for line in commands.splitlines()]


def _filled(block: str, width: int, *, is_item: bool) -> list[str]:
    text = " ".join(block.split()).replace("**", "")
    if heading := re.match(r"#+ ", text):
        return textwrap.wrap(text[heading.end() :].upper(), width)
    # What can be typed stays in one piece.
    text = _TYPED.sub(lambda typed: '"' + typed[1].replace(" ", _NO_BREAK) + '"', text)
    lines = textwrap.wrap(
        text,
        width,
        subsequent_indent=" " * (text.index(" ") + 1) if is_item else "",
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_NO_BREAK, " ") for line in lines]
