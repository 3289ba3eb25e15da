"""What can be typed after ``beltside start``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("open the start window: the whole job without a command line")
EXAMPLES = mark("""\
examples:
  beltside start                     the same as beltside without any word
  beltside start heron.toml          a prescription, to run at home""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", nargs="?", metavar="FILE", help=_("a prescription to run at home"))
