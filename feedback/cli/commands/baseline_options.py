"""What can be typed after ``beltside baseline``."""

from __future__ import annotations

import argparse

from feedback.cli.options import (
    add_athlete,
    add_belt_speed,
    add_outputs,
    add_source,
    add_view,
    number,
)

HELP = "measure without cues"
EXAMPLES = """\
examples:
  beltside baseline --athlete heron --camera 0
  beltside baseline --athlete heron --clip side --headless    try it on the bundled clip

Run as always, at the belt speed that the drill will have. No cue is given. It ends by itself when
there are enough steps (60) and they are steady, and is stored under the runner's code name."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_athlete(parser)
    add_source(parser, required=True)
    add_view(parser)
    add_belt_speed(parser)
    parser.add_argument(
        "--steps",
        type=number(60, 400, "steps"),
        default=60,
        metavar="N",
        help="how many good steps at least (default: 60)",
    )
    add_outputs(parser)
