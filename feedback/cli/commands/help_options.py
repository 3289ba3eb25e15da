"""What can be typed after ``beltside help``."""

from __future__ import annotations

import argparse
from typing import Final

from feedback.help import TOPICS
from shared.language import _, mark

HELP: Final = mark("read about a topic")
EXAMPLES: Final = mark("""\
examples:
  beltside help                      list the topics
  beltside help camera               where the camera stands, and how it is checked""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Which topic."""
    parser.add_argument(
        "topic",
        nargs="?",
        type=_topic,
        metavar="TOPIC",
        help=_("what to read about (default: list the topics)"),
    )


def _topic(text: str) -> str:
    if text not in TOPICS:
        known = ", ".join(TOPICS)
        raise argparse.ArgumentTypeError(
            _("{text!r} is no topic; there are {known}").format(text=text, known=known)
        )
    return text
