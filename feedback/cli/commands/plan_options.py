"""What can be typed after ``beltside plan``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_accept_unsigned

HELP = "show a plan's sessions, and which one is next"
EXAMPLES = """\
examples:
  beltside plan heron.toml
  beltside plan eight_sessions       a plan by its name, before anything is prescribed"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE|NAME", help="a prescription, or a plan by its name")
    add_accept_unsigned(parser)
