"""What can be typed after ``beltside clinics``."""

from __future__ import annotations

import argparse
from pathlib import Path

HELP = "list, accept or forget clinics whose prescriptions are run here"
EXAMPLES = """\
examples:
  beltside clinics                   the keys that are known here, as four groups to compare
  beltside clinics --accept new.toml after the clinic had a new computer: shows old and new, asks
  beltside clinics --remove "1a2b 3c4d 5e6f 7a8b"

The key of the first prescription that is run here is taken for the clinic's; one that is signed
with another key is not run until it is accepted. At a clinic its own key is known, and so are
those under signers in records.toml."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    what = parser.add_mutually_exclusive_group()
    help_text = "accept the key that this prescription is signed with"
    what.add_argument("--accept", type=Path, metavar="FILE", help=help_text)
    what.add_argument("--remove", metavar="GROUPS", help="forget the key with these four groups")
    parser.add_argument("--yes", action="store_true", help="do not ask")
