"""What can be typed after ``beltside remeasure``."""

from __future__ import annotations

import argparse
from pathlib import Path

from shared.language import _, mark

HELP = mark("measure a session again from its landmarks")
EXAMPLES = mark(
    """\
examples:
  beltside remeasure SESSION.track   a session of 'beltside run --track'

The landmarks are measured and cued again by this version; differences from the record are
listed."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="TRACK", help=_("the .track of a session"))
