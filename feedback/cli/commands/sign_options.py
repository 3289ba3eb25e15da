"""What can be typed after ``beltside sign``."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "sign a prescription that was changed by hand"
EXAMPLES = """\
examples:
  beltside sign heron.toml           shows what it says, asks, and signs it with this station's key
  beltside sign old.toml --out new.toml

For the clinic: after a change by hand, and for prescriptions of versions that did not sign. The
limits are checked as when it was prescribed."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the prescription")
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="where to (default: the same file)"
    )
    parser.add_argument("--yes", action="store_true", help="do not ask")
