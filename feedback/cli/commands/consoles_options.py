"""What can be typed after ``beltside consoles``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("list or remove paired consoles")
EXAMPLES = mark(
    """\
examples:
  beltside consoles
  beltside consoles --remove "front desk"      it can no longer connect, from now on"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("--remove", metavar="NAME", help=_("remove this one from the list"))
