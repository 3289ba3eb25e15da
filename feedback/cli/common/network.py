"""The station on the network, as the commands open it and tell of it."""

from __future__ import annotations

import argparse

from feedback.link.certificate import grouped
from feedback.link.discovery import own_addresses
from feedback.link.network_station import Network, link_folder, usual_name
from feedback.link.pairing import CODE_HOLDS_NS, MOST_TRIES
from feedback.terminal.guard import say
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
    say(f'Paired with the console "{name}".')


def place_words(network: Network) -> str:
    """Where the station is to be found."""
    places = " or ".join(f"{address}:{network.port}" for address in own_addresses())
    return (
        f'On the network as "{network.name}", at {places}. '
        f"Certificate {grouped(network.fingerprint)}."
    )


def code_words(code: str) -> str:
    """The code for a person to carry to the console."""
    minutes = CODE_HOLDS_NS / NS_PER_S / 60
    return (
        f"Code to pair a console: {code[:3]} {code[3:]} "
        f"(for {minutes:g} minutes and {MOST_TRIES} tries). At the console: beltside console"
    )
