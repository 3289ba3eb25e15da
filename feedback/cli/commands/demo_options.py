"""What can be typed after ``beltside demo``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_own_model, add_screen, add_sound, number
from shared.flow import View
from shared.language import _, mark

HELP = mark("try it on a bundled clip")
EXAMPLES = mark(
    """\
examples:
  beltside demo                      with screen and sound, where there are any
  beltside demo --headless           every measure and cue as a line, then a summary
  beltside demo --view behind --seconds 60"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument(
        "--view",
        choices=[View.SIDE.value, View.BEHIND.value],
        default=View.SIDE.value,
        help=_("camera position, seen from the runner (default: side)"),
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        default=38.0,
        metavar="S",
        help=_("how long it runs (default: 38)"),
    )
    parser.add_argument(
        "--headless", action="store_true", help=_("no window: print every measure and cue")
    )
    add_screen(parser)
    add_sound(parser)
    add_own_model(parser)
