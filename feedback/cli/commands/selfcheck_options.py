"""What can be typed after ``beltside selfcheck``."""

from __future__ import annotations

import argparse

from feedback.cli.options import address
from shared.language import _, mark

HELP = mark("check that this computer has what a session needs")
EXAMPLES = mark(
    """\
examples:
  beltside selfcheck            each part, what was found, and what to do
  beltside selfcheck --stream http://192.168.1.20:8080/video     a network camera as well
  beltside selfcheck --json     one line of JSON a part, for scripts

Exit codes: 0 a session can be held, 1 something that it needs is broken."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument(
        "--stream",
        metavar="ADDRESS",
        type=address,
        help=_("also look at this network camera"),
    )
    parser.add_argument(
        "--json", action="store_true", help=_("one line of JSON for each part, for scripts")
    )
