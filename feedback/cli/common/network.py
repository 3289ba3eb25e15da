"""The station on the network, as the commands open it and tell of it."""

from __future__ import annotations

import argparse

from feedback.link.certificate import grouped
from feedback.link.discovery import own_addresses
from feedback.link.network_station import Network, link_folder, usual_name
from feedback.link.pairing import CODE_HOLDS_NS, MOST_TRIES
from feedback.terminal.guard import say
from shared.language import _
from shared.units import NS_PER_S


def open_network(options: argparse.Namespace) -> Network | None:
    """The network, where it was asked for, with a line about it; else nothing listens there.

    Raises UserError: ``certificate_damaged``, ``network_failed``, ``save_failed``.
    """
    if not (options.network or options.pair):
        return None
    name = options.station_name or usual_name()
    network = Network(link_folder(), name, options.port, _say_paired)
    say(place_words(network))
    if options.pair:
        say(code_words(network.open_pairing(options.only_from or "")))
    return network


def _say_paired(name: str) -> None:
    say(_('Paired with the console "{name}".').format(name=name))


def place_words(network: Network) -> str:
    """Where the station is to be found."""
    places = _(" or ").join(f"{address}:{network.port}" for address in own_addresses())
    return _('On the network as "{name}", at {places}. Certificate {grouped}.').format(
        name=network.name, places=places, grouped=grouped(network.fingerprint)
    )


def code_words(code: str) -> str:
    """The code for a person to carry to the console."""
    minutes = CODE_HOLDS_NS / NS_PER_S / 60
    return _(
        "Code to pair a console: {code} {code_2} (for {minutes:g} minutes and {most_tries} tries). "
        "At the console: beltside console"
    ).format(code=code[:3], code_2=code[3:], minutes=minutes, most_tries=MOST_TRIES)
