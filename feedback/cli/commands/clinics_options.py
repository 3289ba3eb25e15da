"""What can be typed after ``beltside clinics``."""

from __future__ import annotations

import argparse
from pathlib import Path

from shared.language import _, mark

HELP = mark("list, accept or remove clinics whose prescriptions run here")
EXAMPLES = mark(
    """\
examples:
  beltside clinics                   the keys known here, as four groups to compare
  beltside clinics --accept new.toml for the clinic's new computer: shows old and new, asks
  beltside clinics --remove "1a2b 3c4d 5e6f 7a8b"

The key of the first prescription run here is taken to be the clinic's; one signed with another
key does not run until it is accepted. At a clinic, its own key and those under signers in
records.toml are known."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    what = parser.add_mutually_exclusive_group()
    help_text = _("accept this prescription's signing key")
    what.add_argument("--accept", type=Path, metavar="FILE", help=help_text)
    what.add_argument("--remove", metavar="GROUPS", help=_("remove the key with these four groups"))
    parser.add_argument("--yes", action="store_true", help=_("do not ask"))
