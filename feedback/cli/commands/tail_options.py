"""What can be typed after ``beltside tail``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("print a running session's measures, events and cues as lines of JSON")
EXAMPLES = mark(
    """\
examples:
  beltside run --athlete NAME --camera 0 --feed     in one terminal
  beltside tail                                     in another: one line of JSON a value

It only reads. What each line means is in feed_lines.schema.json (JSON Schema):
  beltside tail --schema"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("--schema", action="store_true", help=_("print the lines' JSON Schema"))
    parser.add_argument(
        "--session", metavar="ID", default="", help=_("of which session (default: the newest)")
    )
