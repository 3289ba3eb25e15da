"""What can be typed after ``beltside demo``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_own_model, add_screen, add_sound, number
from feedback.demo import PARTS
from shared.language import _, mark

HELP = mark("try it on a bundled clip")
EXAMPLES = mark(
    """\
examples:
  beltside demo                      from the side, then from behind, then a report
  beltside demo --headless           every measure and cue as a line, then a summary
  beltside demo --view behind --seconds 60"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument(
        "--view",
        choices=[view.value for view in PARTS],
        help=_("camera position, seen from the runner: that part alone (default: both in turn)"),
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        metavar="S",
        help=_("how long each part runs (default: side 38, behind 30)"),
    )
    parser.add_argument(
        "--headless", action="store_true", help=_("no window: print every measure and cue")
    )
    parser.add_argument(
        "--no-report", action="store_true", help=_("write no report, and open none, at the end")
    )
    add_screen(parser)
    add_sound(parser)
    add_own_model(parser)
