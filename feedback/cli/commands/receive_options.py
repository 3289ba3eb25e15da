"""What can be typed after ``beltside receive``."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.options import add_accept_unsigned
from shared.language import _, mark

HELP = mark("accept a result from home")
EXAMPLES = mark("""\
examples:
  beltside receive heron-session3.json
  beltside receive heron-session3.json --athlete Heron --prescription heron.toml

A result is accepted once, and only for a prescription that this clinic has signed: with this
station's key, or with one under signers in records.toml. It must be unchanged since the computer
that ran the session wrote it: a changed file is refused.""")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="FILE", help=_("the result file you received"))
    parser.add_argument("--athlete", metavar="NAME", help=_("the athlete it must belong to"))
    parser.add_argument(
        "--prescription", type=Path, metavar="FILE", help=_("the prescription it belongs to")
    )
    add_accept_unsigned(parser)
    parser.add_argument(
        "--confirmed",
        action="store_true",
        help=_(
            "the runner has told that this session was held, though its file cannot prove it: "
            "it comes from an older version or another computer than those before"
        ),
    )
