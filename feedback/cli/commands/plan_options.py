"""What can be typed after ``beltside plan``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_accept_unsigned
from shared.language import _, mark

HELP = mark("show a plan's sessions and the next one")
EXAMPLES = mark(
    """\
examples:
  beltside plan heron.toml
  beltside plan eight_sessions       a plan by name, before anything is prescribed"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument(
        "file", metavar="FILE|NAME", help=_("a prescription, or the name of a plan")
    )
    add_accept_unsigned(parser)
