"""What can be typed after ``beltside rehearse``."""

from __future__ import annotations

import argparse

from feedback.cli.options import rating, whole_number
from shared.language import _, mark

HELP = mark("run a whole plan with a simulated runner")
EXAMPLES = mark(
    """\
examples:
  beltside rehearse heron.toml
  beltside rehearse heron.toml --pain 1,2,6,1 --not-settled 2

A simulated runner that hears the cues, tires and learns runs every session of the plan in seconds,
to show how the plan withdraws the cues and when it would hold back. It predicts nothing about a
real person."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("file", metavar="FILE", help=_("a prescription with a plan"))
    parser.add_argument(
        "--seed",
        type=whole_number(10_000),
        default=1,
        metavar="N",
        help=_("another simulated runner (default: 1)"),
    )
    parser.add_argument(
        "--pain",
        type=_pains,
        default=(1,),
        metavar="P,P,...",
        help=_("worst pain by session; the last one applies to all later sessions (default: 1)"),
    )
    parser.add_argument(
        "--not-settled",
        type=_wholes,
        default=(),
        metavar="N,N,...",
        help=_("sessions after which the pain has not settled by the next morning"),
    )


def _wholes(text: str) -> tuple[int, ...]:
    return tuple(whole_number(10_000)(part.strip()) for part in text.split(","))


def _pains(text: str) -> tuple[int, ...]:
    return tuple(rating(part.strip()) for part in text.split(","))
