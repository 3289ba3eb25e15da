"""What can be typed after ``beltside store``."""

from __future__ import annotations

import argparse

from shared.language import _, mark

HELP = mark("show which store is used, or try another one")
EXAMPLES = mark("""\
examples:
  beltside store                            the one in use, and how many sessions are in it
  echo postgresql://me@server/clinic | beltside store --test

The address is read from the input, so that no list of processes shows it. A password belongs in
.pgpass, not in the address.""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument(
        "--test", action="store_true", help=_("try the address read from the input")
    )
