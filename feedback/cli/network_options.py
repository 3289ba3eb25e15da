"""The command line of the network: stations that are reached over it, and consoles."""

from __future__ import annotations

import argparse
import ipaddress
from pathlib import Path

from feedback.cli.options import Parser, command
from feedback.link.address import DEFAULT_PORT, Address, place_of
from feedback.link.quota import plain_address
from shared.plain_text import fault_in, plain_line

_PAIR_EXAMPLES = """\
At the station: shows six digits for two minutes. Typing them at a console pairs that
console with this station. The code works once; five wrong codes end it, or three from one computer.
examples:
  beltside pair
  beltside pair --from 192.168.1.7             only the console at this address may try the code"""
_CONSOLES_EXAMPLES = """\
examples:
  beltside consoles
  beltside consoles --remove "front desk"      it can no longer connect, from now on"""
_STATIONS_EXAMPLES = """\
examples:
  beltside stations
  beltside stations --remove "room 1"          forget it here"""
_CONSOLE_EXAMPLES = """\
examples:
  beltside console                             pairs the first time, then connects automatically
  beltside console "room 1" "room 2"           several at once
  beltside console --address 192.168.1.7       if stations are not found automatically
  beltside console --headless                  without a window: lines, and typed commands"""


def add_network(parser: argparse.ArgumentParser) -> None:
    """Options of a session that consoles elsewhere may take part in."""
    parser.add_argument(
        "--network",
        action="store_true",
        help="let paired consoles on the network connect (off by default)",
    )
    parser.add_argument(
        "--pair",
        action="store_true",
        help="the same, and show a code for pairing a console",
    )
    _add_place(parser)
    _add_from(parser)


def _add_from(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--from",
        dest="only_from",
        type=_address,
        default=None,
        metavar="ADDRESS",
        help="let only the console at this address try the code (it shows its address)",
    )


def _add_place(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--port",
        type=_port,
        metavar="N",
        help=f"on the network (default: {DEFAULT_PORT}, or any free port)",
    )
    parser.add_argument(
        "--station-name",
        type=_name,
        metavar="NAME",
        help="name shown on consoles (default: this computer's name)",
    )


def add_networking(commands: argparse._SubParsersAction[Parser]) -> None:
    """The commands for pairing, and the console."""
    pair = command(commands, "pair", "let a console be paired with this station", _PAIR_EXAMPLES)
    _add_place(pair)
    _add_from(pair)
    consoles = command(commands, "consoles", "list or remove paired consoles", _CONSOLES_EXAMPLES)
    consoles.add_argument("--remove", metavar="NAME", help="remove this one from the list")
    stations = command(commands, "stations", "list or remove known stations", _STATIONS_EXAMPLES)
    stations.add_argument("--remove", metavar="NAME", help="forget this one")
    console = command(
        commands, "console", "follow and change sessions from another computer", _CONSOLE_EXAMPLES
    )
    console.add_argument("stations", nargs="*", metavar="STATION", help="only these")
    console.add_argument(
        "--address", type=_place, metavar="HOST:PORT", help="connect to this address"
    )
    console.add_argument("--pair", action="store_true", help="pair with one more station")
    code = console.add_mutually_exclusive_group()
    code.add_argument(
        "--code-file",
        type=Path,
        metavar="FILE",
        help="read the code from this file instead of typing it; - reads a line from stdin",
    )
    code.add_argument(
        "--code",
        metavar="DIGITS",
        help="the code itself; all users of this computer can see it in the list of processes",
    )
    console.add_argument(
        "--name", type=_name, help="name of this console (default: this computer's name)"
    )
    console.add_argument("--headless", action="store_true", help="no window: lines")
    console.add_argument("--windowed", action="store_true", help="in a window, not full screen")


def _name(text: str) -> str:
    if why := fault_in(text):
        raise argparse.ArgumentTypeError(f"{text!r} is not a name: {why}")
    name = plain_line(text)
    if len(name) > 40 or text != text.strip():
        raise argparse.ArgumentTypeError(f"{text!r} is not a name of 1 to 40 letters")
    return name


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 6 and 0 < int(text) < 65536):
        raise argparse.ArgumentTypeError(f"{text!r} is not a port from 1 to 65535")
    return int(text)


def _address(text: str) -> str:
    plain = plain_address(text)
    try:
        ipaddress.ip_address(plain)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not an address such as 192.168.1.7"
        ) from None
    return plain


def _place(text: str) -> Address:
    place = place_of(text)
    if place is None:
        raise argparse.ArgumentTypeError(f"{text!r} is not an address such as 192.168.1.7:47820")
    return place
