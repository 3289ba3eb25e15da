"""What can be typed after ``beltside check``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_own_model, add_source, add_view, number

HELP = "put the camera up and check it"
EXAMPLES = """\
examples:
  beltside check --view side --camera 0
  beltside check --view behind --stream http://192.168.1.20:8080/video

It shows the camera's picture and what to do, until the runner is seen well. The place is
remembered: the next check says whether the camera stands as it did, and sessions with this camera
and view watch the ends of the belt as they were drawn."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_source(parser, required=True)
    add_view(parser, required=True, what="where the camera stands, seen from the runner")
    parser.add_argument("--windowed", action="store_true", help="a window, not the whole screen")
    parser.add_argument(
        "--headless", action="store_true", help="no screen: every check is printed here"
    )
    parser.add_argument(
        "--seconds",
        type=number(3, 3600, "seconds"),
        default=60.0,
        metavar="S",
        help="without a screen: give up after S (default: 60)",
    )
    add_own_model(parser)
