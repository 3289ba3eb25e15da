"""What can be typed after ``beltside check``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_own_model, add_source, add_view, number
from shared.language import _, mark

HELP = mark("set up the camera and check it")
EXAMPLES = mark(
    """\
examples:
  beltside check --view side --camera 0
  beltside check --view behind --stream http://192.168.1.20:8080/video

It shows the camera's picture and what to do, until all checks pass. The place is saved: the next
check says whether the camera is in the same place, and sessions with this camera and view watch
the ends of the belt as you marked them."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_source(parser, required=True)
    add_view(parser, required=True, what=_("camera position, seen from the runner"))
    parser.add_argument("--windowed", action="store_true", help=_("in a window, not full screen"))
    parser.add_argument(
        "--headless", action="store_true", help=_("no screen: every check is printed here")
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        default=60.0,
        metavar="S",
        help=_("without a screen: stop after S (default: 60)"),
    )
    add_own_model(parser)
