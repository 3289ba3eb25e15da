"""What can be typed after ``beltside home``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_held, add_source
from shared.language import _, mark

HELP = mark("run a prescription at home, step by step")
EXAMPLES = mark(
    """\
examples:
  beltside home heron.toml           the first camera
  beltside home heron.toml --camera 1

It guides you through the camera check, the cautions, the run and the questions, and writes one
file to send to the clinic. You do not type anything on the belt.
{LIMITS}"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE", help=_("the prescription from the clinic"))
    add_source(parser, required=False)
    add_held(parser)
    parser.add_argument(
        "--led",
        action="store_true",
        help=_("today's session and the camera's place were shown before, as by the start window"),
    )
    parser.add_argument(
        "--agreed", action="store_true", help=_("the clinic has agreed to continue despite pain")
    )
