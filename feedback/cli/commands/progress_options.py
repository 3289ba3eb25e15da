"""What can be typed after ``beltside progress``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_belt_speed, add_page_out, add_view

HELP = "write an athlete's progress"
EXAMPLES = """\
examples:
  beltside progress heron
  beltside progress heron --view behind --belt-kmh 10 --out progress.html

Only sessions at like view and belt speed are compared (the newest session's, if not given)."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", metavar="NAME", help="a code name")
    add_view(parser, what="where the camera stood")
    add_belt_speed(parser, what="the belt's speed")
    add_page_out(parser)
