"""What can be typed after ``beltside erase``."""

from __future__ import annotations

import argparse

from feedback.cli.options import whole_number

HELP = "erase an athlete, or old sessions"
EXAMPLES = """\
examples:
  beltside erase Heron               asks for the code name once more
  beltside erase --older-than 730    all sessions older than two years
  beltside erase --expired           older than keep_days in records.toml
  beltside erase --bring-back        put back what erase_by_itself has set aside for a week

What is erased is gone from the store, from this computer's files and, at its next sync, from
every other station of the same store. There is no way back."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("athlete", nargs="?", metavar="NAME", help="a code name, all of it")
    what.add_argument(
        "--older-than", type=whole_number(999_999), metavar="DAYS", help="all sessions older"
    )
    what.add_argument("--expired", action="store_true", help="past the time they are kept")
    help_text = "put back the sessions that were set aside by themselves"
    what.add_argument("--bring-back", action="store_true", help=help_text)
    parser.add_argument("--yes", action="store_true", help="do not ask")
