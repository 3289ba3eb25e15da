"""What can be typed after ``beltside remeasure``."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "measure a session anew from its landmarks"
EXAMPLES = """\
examples:
  beltside remeasure SESSION.track   a session of 'beltside run --track'

The landmarks go once more through today's measuring and cueing; what comes out otherwise than in
the record is listed."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="TRACK", help="the .track of a session")
