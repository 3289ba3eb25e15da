"""What can be typed after ``beltside erase``."""

from __future__ import annotations

import argparse

from feedback.cli.options import whole_number
from shared.language import _, mark

HELP = mark("erase an athlete, or old sessions")
EXAMPLES = mark(
    """\
examples:
  beltside erase Heron               asks for the code name once more
  beltside erase --older-than 730    all sessions older than two years
  beltside erase --expired           older than keep_days in records.toml
  beltside erase --bring-back        bring back what erase_by_itself has set aside for a week

Erased data is removed from the store, from this computer's files and, at its next sync, from
every other station of the same store. This cannot be undone."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    what = parser.add_mutually_exclusive_group(required=True)
    what.add_argument("athlete", nargs="?", metavar="NAME", help=_("a code name, all of it"))
    what.add_argument(
        "--older-than",
        type=whole_number(999_999),
        metavar="DAYS",
        help=_("all sessions older than this"),
    )
    what.add_argument("--expired", action="store_true", help=_("past their retention time"))
    help_text = _("bring back sessions that were set aside automatically")
    what.add_argument("--bring-back", action="store_true", help=help_text)
    parser.add_argument("--yes", action="store_true", help=_("do not ask"))
