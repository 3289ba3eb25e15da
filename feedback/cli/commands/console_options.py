"""What can be typed after ``beltside console``."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.cli.options import network_name
from feedback.link.address import Address, place_of
from shared.language import _, mark

HELP = mark("follow and change sessions from another computer")
EXAMPLES = mark(
    """\
examples:
  beltside console                             pairs the first time, then connects automatically
  beltside console "room 1" "room 2"           several at once
  beltside console --address 192.168.1.7       if stations are not found automatically
  beltside console --headless                  without a window: lines, and typed commands"""
)


def add_options(parser: argparse.ArgumentParser) -> None:
    """Its options, on its own parser."""
    parser.add_argument("stations", nargs="*", metavar="STATION", help=_("only these"))
    parser.add_argument(
        "--address", type=_place, metavar="HOST:PORT", help=_("connect to this address")
    )
    parser.add_argument("--pair", action="store_true", help=_("pair with one more station"))
    code = parser.add_mutually_exclusive_group()
    code.add_argument(
        "--code-file",
        type=Path,
        metavar="FILE",
        help=_("read the code from this file instead of typing it; - reads a line from stdin"),
    )
    code.add_argument(
        "--code",
        metavar="DIGITS",
        help=_("the code itself; all users of this computer can see it in the list of processes"),
    )
    parser.add_argument(
        "--name",
        type=network_name,
        help=_("name of this console (default: this computer's name)"),
    )
    parser.add_argument("--headless", action="store_true", help=_("no window: lines"))
    parser.add_argument("--windowed", action="store_true", help=_("in a window, not full screen"))


def _place(text: str) -> Address:
    place = place_of(text)
    if place is None:
        raise argparse.ArgumentTypeError(
            _("{text!r} is not an address such as 192.168.1.7:47820").format(text=text)
        )
    return place
