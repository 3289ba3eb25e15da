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
from shared.language import _, mark

HELP = mark("measure without cues")
EXAMPLES = mark(
    """\
examples:
  beltside baseline --athlete heron --camera 0
  beltside baseline --athlete heron --clip side --headless    try it on the bundled clip

Run normally, at the belt speed of the drill. No cues are given. It ends automatically when there
are enough steady steps (60), and is stored under the runner's code name."""
)


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
        help=_("least number of good steps (default: 60)"),
    )
    add_outputs(parser)
