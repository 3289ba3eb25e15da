"""What can be typed after ``beltside stations``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("list or remove known stations")
EXAMPLES = mark(
    """\
examples:
  beltside stations
  beltside stations --remove "room 1"          forget it here"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("--remove", metavar="NAME", help=_("forget this one"))
