"""What can be typed after ``beltside records``."""

from __future__ import annotations

import argparse

HELP = "list what is kept of whom"
EXAMPLES = """\
examples:
  beltside records                   who there are records of
  beltside records heron             every session and every file of Heron"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", nargs="?", metavar="NAME", help="a code name")
