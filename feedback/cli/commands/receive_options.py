"""What can be typed after ``beltside receive``."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.options import add_accept_unsigned

HELP = "take in a result from home"
EXAMPLES = """\
examples:
  beltside receive heron-session3.json
  beltside receive heron-session3.json --athlete Heron --prescription heron.toml

A result is taken in once, and only as the answer to a prescription that this clinic has signed:
with this station's key, or with one under signers in records.toml. It must be as the computer wrote
it that held the session: whatever was changed in it since, it is refused."""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", type=Path, metavar="FILE", help="the result that was sent")
    parser.add_argument("--athlete", metavar="NAME", help="whose it must be")
    parser.add_argument(
        "--prescription", type=Path, metavar="FILE", help="the prescription that it answers"
    )
    add_accept_unsigned(parser)
    parser.add_argument(
        "--confirmed",
        action="store_true",
        help="the runner has told that this session was held, though its file cannot prove it: "
        "it comes from an older version or another computer than those before",
    )
