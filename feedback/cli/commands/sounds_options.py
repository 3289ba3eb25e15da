"""What can be typed after ``beltside sounds``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_volume
from shared.language import _, mark

HELP = mark("play each sound once, with its meaning")
EXAMPLES = mark(
    """\
examples:
  beltside sounds
  beltside sounds --only out_low_left"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_volume(parser)
    parser.add_argument(
        "--only", metavar="NAME", help=_("this sound alone, by its name in the list")
    )
    parser.add_argument(
        "--json", action="store_true", help=_("play nothing; print the sound outputs, for programs")
    )
