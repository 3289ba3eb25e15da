"""What can be typed after ``beltside progress``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_belt_speed, add_page_out, add_view
from shared.language import _, mark

HELP = mark("write an athlete's progress")
EXAMPLES = mark("""\
examples:
  beltside progress heron
  beltside progress heron --view behind --belt-kmh 10 --out progress.html

Only sessions with the same view and belt speed are compared (default: those of the newest one).""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", metavar="NAME", help=_("a code name"))
    add_view(parser, what=_("camera position"))
    add_belt_speed(parser, what=_("the belt's speed"))
    add_page_out(parser)
