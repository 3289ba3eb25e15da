"""``beltside consoles``: the consoles that are paired with this station."""

from __future__ import annotations

import argparse

from feedback.link.consoles import ConsoleList
from feedback.link.network_station import link_folder
from feedback.terminal.guard import OK, say
from shared.language import _


def run(options: argparse.Namespace) -> int:
    """List them, or remove one. Raises UserError."""
    consoles = ConsoleList(link_folder())
    if options.remove is not None:
        consoles.remove(options.remove)
        say(_('"{remove}" is removed: it can no longer connect.').format(remove=options.remove))
        return OK
    for console in consoles.all():
        say(
            _("{name:40} paired on {replace}").format(
                name=console.name, replace=console.paired_on[:16].replace("T", " at ")
            )
        )
    if not consoles.all():
        say(_("No console is paired. To pair one, run 'beltside pair' at the station."))
    return OK
