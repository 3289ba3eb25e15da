"""What can be typed after ``beltside sign``."""

from __future__ import annotations

import argparse
from pathlib import Path

from shared.language import _, mark

HELP = mark("sign a prescription after a manual change")
EXAMPLES = mark(
    """\
examples:
  beltside sign heron.toml           shows it, asks, and signs it with this station's key
  beltside sign old.toml --out new.toml

For the clinic: after a manual change, and for prescriptions from versions that did not sign. The
limits are checked as when it was prescribed."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="FILE", help=_("the prescription"))
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help=_("output file (default: the same file)")
    )
    parser.add_argument("--yes", action="store_true", help=_("do not ask"))
