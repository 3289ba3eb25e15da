"""What can be typed after ``beltside records``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("list the stored records")
EXAMPLES = mark("""\
examples:
  beltside records                   everyone who has records
  beltside records heron             every session and every file of Heron""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", nargs="?", metavar="NAME", help=_("a code name"))
    parser.add_argument(
        "--json", action="store_true", help=_("as JSON, for the start window: it may change")
    )
