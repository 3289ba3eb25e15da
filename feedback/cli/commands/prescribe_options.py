"""What can be typed after ``beltside prescribe``."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.options import add_athlete, add_belt_speed, add_view, number
from shared.language import _, mark

HELP = mark("write a prescription from a baseline")
EXAMPLES = mark(
    """\
examples:
  beltside prescribe --athlete heron --drill quick_steps --plan eight_sessions --out heron.toml
  beltside prescribe --athlete heron --drill quick_steps --change steps=7.5

Targets are calculated from the runner's newest baseline at this view and belt speed."""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    add_athlete(parser)
    parser.add_argument(
        "--drill", required=True, metavar="NAME|FILE", help=_("see beltside drills")
    )
    parser.add_argument(
        "--plan", metavar="NAME|FILE", help=_("see beltside drills; without it, the drill alone")
    )
    add_view(parser, what=_("if different from the drill"))
    add_belt_speed(parser)
    parser.add_argument(
        "--change",
        type=_change,
        action="append",
        default=[],
        metavar="AIM=PERCENT",
        help=_("a different change from baseline for one aim, such as steps=7.5"),
    )
    parser.add_argument("--out", type=Path, metavar="FILE", help=_("where to write it"))


def _change(text: str) -> tuple[str, float]:
    name, equals, value = text.rpartition("=")
    if not equals or not name:
        raise argparse.ArgumentTypeError(
            _("{text!r} is not in the form aim=percent").format(text=text)
        )
    return name, number(-60, 60, "percent")(value)
