"""``beltside console``: the clinician's console, for stations on the network."""

from __future__ import annotations

import argparse
import importlib
import sys
import time

from feedback.cli.commands.stations import LOOK_S, line, say_more, the_one
from feedback.cli.common.console_talk import talk
from feedback.link.address import Address
from feedback.link.consoles import KnownStation
from feedback.link.directory import Directory
from feedback.link.discovery import own_addresses
from feedback.link.network_station import link_folder, usual_name
from feedback.link.pairing import CODE_DIGITS, MOST_NAME_LETTERS
from feedback.terminal.guard import say
from feedback.terminal.hidden_argument import hide_argument
from feedback.terminal.output import read_line
from shared.language import _
from shared.plain_text import plain_lines
from shared.problems import UserError
from shared.reading import read_content

_LOOK_AGAIN_S = 0.1
_MOST_CODE_BYTES = 1000
_OTHERS_S = 1.0
"""Stations that are there answer within this time of each other."""


def run(options: argparse.Namespace) -> int:
    """Find, pair, join, and talk. Raises UserError."""
    if options.code:
        _hide(str(options.code))
    directory = Directory(link_folder())
    try:
        chosen = _chosen(options, directory)
        if options.headless:
            return talk(directory, chosen)
        window = importlib.import_module("feedback.screens.clinician.console")
        return int(window.show(directory, chosen, windowed=options.windowed))
    finally:
        directory.close()


def _chosen(options: argparse.Namespace, directory: Directory) -> tuple[KnownStation, ...]:
    """The stations to join, paired with first where they are not yet."""
    if options.address is not None:
        return (_at(options, directory),)
    known = directory.known()
    if options.stations:
        return tuple(the_one(wanted, known) for wanted in options.stations)
    if known and not options.pair:
        _wait_for(directory, known)
        there = tuple(station for station in known if directory.is_there(station))
        return there or known
    if not options.headless and not options.pair:
        return ()  # the window finds and pairs
    return (_pair_with_one(options, directory),)


def _wait_for(directory: Directory, known: tuple[KnownStation, ...]) -> None:
    """Give the paired stations time to be found; what else is announced is no reason to wait less.

    No longer than it takes where all are there at once, and not much longer where one is.
    """
    until = time.monotonic() + LOOK_S
    while time.monotonic() < until:
        there = sum(directory.is_there(station) for station in known)
        if there == len(known):
            return
        if there:
            until = min(until, time.monotonic() + _OTHERS_S)
        time.sleep(_LOOK_AGAIN_S)


def _at(options: argparse.Namespace, directory: Directory) -> KnownStation:
    place: Address = options.address
    for station in directory.known():
        if not options.pair and (station.host, station.port) == place:
            return station
    return _pair(options, directory, (place,), str(place))


def _pair_with_one(options: argparse.Namespace, directory: Directory) -> KnownStation:
    say(_("Looking for stations ..."))
    time.sleep(LOOK_S)
    found = directory.unknown()
    if not found:
        do = _("Start it with --network, or type its address here: --address HOST:PORT.")
        raise UserError("station_not_found", which="", do=do)
    prefixes = list(dict.fromkeys(one.prefix for one in found))
    groups = [[one for one in found if one.prefix == prefix] for prefix in prefixes]
    for number, group in enumerate(groups, start=1):
        say(f"{number}  {line(group[0].name, group[0].prefix, '')}")
    say_more(directory)
    group = groups[0] if len(groups) == 1 else groups[_number(len(groups)) - 1]
    places = tuple(Address(host, one.port) for one in group for host in one.hosts)
    return _pair(options, directory, places, group[0].name)


def _pair(
    options: argparse.Namespace, directory: Directory, places: tuple[Address, ...], name: str
) -> KnownStation:
    code = given_code(options, name).replace(" ", "")
    if len(code) != CODE_DIGITS or not (code.isascii() and code.isdigit()):
        do = _("Start again and type the six digits.")
        raise UserError(
            "pairing_failed",
            why=_("a code has {code_digits} digits").format(code_digits=CODE_DIGITS),
            do=do,
        )
    station = directory.pair(places, code, options.name or usual_name(MOST_NAME_LETTERS))
    say(_('Paired with "{name}" as "{called}".').format(name=station.name, called=station.called))
    return station


def _hide(code: str) -> None:
    """Take the code out of the list of processes, and say who could read it meanwhile."""
    if hide_argument(code):
        note = _(
            "Note: all users of this computer could see the code for a moment, as the program "
            "started. Leave --code out and type it when asked, or use --code-file."
        )
    else:
        note = _(
            "Note: all users of this computer can see a code given with --code. Leave it out and "
            "type it when asked, or use --code-file."
        )
    sys.stderr.write(plain_lines(f"{note}\n"))


def given_code(options: argparse.Namespace, name: str) -> str:
    """The code as it was given or typed, blanks and all. Raises UserError for no file."""
    if options.code:
        return str(options.code)
    if options.code_file is None:
        say(_("This console is at {names}.").format(names=", ".join(own_addresses())))
        return _typed(_("Code shown at {name} (beltside pair): ").format(name=name))
    if str(options.code_file) == "-":
        return read_line().strip()
    content = read_content(options.code_file.expanduser(), _MOST_CODE_BYTES)
    return content.decode("ascii", errors="replace").strip()


def _number(most: int) -> int:
    text = _typed(_("Which one, 1 to {most}? ").format(most=most))
    if text.isdecimal() and 1 <= int(text) <= most:
        return int(text)
    raise UserError(
        "station_not_found",
        which=f'"{text}" ',
        do=_("Type a number from 1 to {most}.").format(most=most),
    )


def _typed(question: str) -> str:
    sys.stdout.write(plain_lines(question))
    sys.stdout.flush()
    return read_line().strip()
