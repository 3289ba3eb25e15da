"""What can be typed after ``beltside run``."""

from __future__ import annotations

import argparse

from feedback.cli.options import (
    add_athlete,
    add_network,
    add_session,
    add_source,
    add_view,
    number,
)
from shared.language import _, mark

HELP = mark("run a session with cues")
EXAMPLES = mark(
    """\
examples:
  beltside run --athlete NAME --camera 0
  beltside run --athlete my_runner.toml --stream http://192.168.1.20:8080/video --minutes 20
  beltside run --athlete my_runner.toml --file run.mp4 --view behind --windowed

Stop: any key, the Stop button on the screen, or a hand held over the head.
Number keys rate pain, P pauses.
{LIMITS}"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_athlete(parser)
    add_source(parser, required=True)
    add_view(parser)
    parser.add_argument(
        "--minutes",
        type=number(0.1, 240, mark("minutes")),
        metavar="M",
        help=_("end automatically after M"),
    )
    add_session(parser)
    add_network(parser)
    parser.set_defaults(headless=False)
