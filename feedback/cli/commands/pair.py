"""``beltside pair``: a person at the station lets one console be paired."""

from __future__ import annotations

import argparse
import queue

from feedback.cli.common.network import code_words, place_words
from feedback.link.network_station import Network, link_folder, usual_name, who_tried
from feedback.link.server import LinkServer
from feedback.terminal.guard import OK, say
from feedback.terminal.output import check_output
from shared.language import _, mark
from shared.problems import UserError

_LOOK_S = 0.2
_KEEP_OUT = mark(
    "Run 'beltside pair' again for a new code. If that was someone else, allow only the console "
    "you want: beltside pair --from ADDRESS, using the address shown on that console."
)
_KEEP_S = 3.0
"""A code is used up a moment before its console is kept, on a slow disk a long one."""


def run(options: argparse.Namespace) -> int:
    """Show a code and wait until it was used. Raises UserError when it was not."""
    paired: queue.Queue[str] = queue.Queue()
    name = options.station_name or usual_name()
    network = Network(link_folder(), name, options.port, paired.put)
    link = LinkServer(lambda *_: None, lambda _: None, lambda *_: None)
    try:
        link.start(network, only_pairs=True)
        say(place_words(network))
        say(code_words(network.open_pairing(options.only_from or "")))
        say(
            _(
                'Paired with "{name}". It can connect to every session that runs\n'
                "with --network. To remove it: beltside consoles --remove NAME."
            ).format(name=_wait(network, paired))
        )
    finally:
        link.close(_("Pairing has ended."))
        network.close()
    return OK


def _wait(network: Network, paired: queue.Queue[str]) -> str:
    while True:
        check_output()
        try:
            return paired.get(timeout=_LOOK_S)
        except queue.Empty:
            standing = network.pairing()
        do = _("Run 'beltside pair' again for a new code.")
        if standing.locked:
            who = who_tried(standing.attempts)
            why = _("too many wrong codes: {who}").format(who=who)
            raise UserError("pairing_failed", why=why, do=_(_KEEP_OUT))
        if not standing.code:
            try:
                return paired.get(timeout=_KEEP_S)
            except queue.Empty:
                why = _("the code has expired")
                raise UserError("pairing_failed", why=why, do=do) from None
