"""What can be typed after ``beltside export``."""

from __future__ import annotations

import argparse
from pathlib import Path

from shared.language import _, mark

HELP = mark("write sessions to a file")
EXAMPLES = mark("""\
examples:
  beltside export heron --out heron.csv
  beltside export heron --out heron.json
  beltside export heron --format fhir --out heron-fhir.json

CSV: one line per value. JSON: everything. FHIR: an R4 Bundle of Observations.""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", metavar="NAME", help=_("a code name"))
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help=_("where to"))
    parser.add_argument(
        "--format",
        choices=["csv", "json", "fhir"],
        help=_("default: from the file name, .csv or .json"),
    )
