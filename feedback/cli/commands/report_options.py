"""What can be typed after ``beltside report``."""

from __future__ import annotations

import argparse

from feedback.cli.options import add_page_out, whole_number
from shared.language import _, mark

HELP = mark("write a session's report")
EXAMPLES = mark("""\
examples:
  beltside report                    the newest session of all
  beltside report heron              the newest one of Heron
  beltside report heron --session 3 --out report.pdf

It writes one page as HTML and as PDF, and says where. Nothing is sent anywhere.""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("athlete", nargs="?", metavar="NAME", help=_("a code name"))
    parser.add_argument(
        "--session",
        type=whole_number(999_999),
        metavar="N",
        help=_("the athlete's N-th session as in 'beltside records' (default: the newest)"),
    )
    add_page_out(parser)
