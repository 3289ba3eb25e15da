"""``beltside stations``: the stations that this console is paired with, and those it finds."""

from __future__ import annotations

import argparse
import time

from feedback.link.certificate import grouped
from feedback.link.consoles import KnownStation
from feedback.link.directory import Directory
from feedback.link.network_station import link_folder
from feedback.terminal.guard import OK, say
from shared.language import _
from shared.problems import UserError

LOOK_S = 3.0


def run(options: argparse.Namespace) -> int:
    """List them, or remove one. Raises UserError."""
    directory = Directory(link_folder(), look=options.remove is None)
    try:
        if options.remove is not None:
            station = the_one(options.remove, directory.known())
            directory.forget(station)
            say(
                _('"{name}" is removed here. At the station: beltside consoles --remove').format(
                    name=station.name
                )
            )
            return OK
        time.sleep(LOOK_S)
        for known in directory.known():
            where = "found" if directory.is_there(known) else _("not found now")
            say(
                line(
                    known.name,
                    known.fingerprint,
                    _("paired as {called}, {where}").format(called=known.called, where=where),
                )
            )
        for found in directory.unknown():
            hosts = _(" or ").join(f"{host}:{found.port}" for host in found.hosts)
            say(line(found.name, found.prefix, _("not paired, at {hosts}").format(hosts=hosts)))
        say_more(directory)
        if not (directory.known() or directory.unknown()):
            say(_("No station was found and none is paired. Start one with --network."))
    finally:
        directory.close()
    return OK


def say_more(directory: Directory) -> None:
    """Say how many more there are, where somebody announces more than any place has."""
    if more := directory.more():
        say(
            _("... and {more} more not listed; give the address of the one you want.").format(
                more=more
            )
        )


def line(name: str, fingerprint: str, more: str) -> str:
    """One station in a list; two of one name differ by their certificates."""
    return f"{name:30} {grouped(fingerprint):19}  {more}"


def the_one(wanted: str, stations: tuple[KnownStation, ...]) -> KnownStation:
    """The station of this name, or whose certificate begins so. Raises UserError."""
    plain = wanted.replace(" ", "").lower()
    fitting = [s for s in stations if s.name == wanted] or [
        s for s in stations if len(plain) >= 4 and s.fingerprint.startswith(plain)
    ]
    if len(fitting) == 1:
        return fitting[0]
    names = "\n".join(line(s.name, s.fingerprint, "") for s in fitting or stations) or "none"
    do = _("Give a name, or the beginning of a certificate. Paired: {names}").format(names=names)
    raise UserError("station_not_found", which=f'"{wanted}" ', do=do)
