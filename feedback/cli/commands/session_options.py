"""What can be typed after ``beltside session``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_held, add_source
from shared.language import _, mark

HELP = mark("run a prescription's next session")
EXAMPLES = mark(
    """\
examples:
  beltside session heron.toml --camera 0
  beltside session heron.toml --clip side --headless --shorten 20 --answer pain=1 --answer effort=4

While running, the number keys answer the questions on the screen.
Stop: space, Esc, or the Stop button on the screen.
{LIMITS}"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE", help=_("a prescription"))
    add_source(parser, required=True)
    add_held(parser)
    parser.add_argument(
        "--on-screen",
        action="store_true",
        help=_("ask what is asked before and after the run in a window, not in the terminal"),
    )
