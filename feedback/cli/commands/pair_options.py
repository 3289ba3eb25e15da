"""What can be typed after ``beltside pair``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_from, add_place
from shared.language import mark

HELP = mark("let a console be paired with this station")
EXAMPLES = mark(
    """\
At the station: shows six digits for two minutes. Typing them at a console pairs that
console with this station. The code works once; five wrong codes end it, or three from one computer.
examples:
  beltside pair
  beltside pair --from 192.168.1.7             only the console at this address may try the code"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_place(parser)
    add_from(parser)
