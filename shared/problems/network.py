"""The problems that consoles and stations meet on the network: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

NETWORK: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "network_failed",
        "The station cannot be reached over the network ({why}).",
        "Screens at the station go on working; consoles elsewhere cannot join.",
        "Give another port with --port, or check the network and the firewall. Then start again.",
    ),
    (
        "announce_failed",
        "The station cannot be announced on the network ({why}).",
        "Consoles do not find it by themselves. All else goes on.",
        "Type its address at the console. Check the network and the firewall (UDP port 5353).",
    ),
    (
        "certificate_damaged",
        "The station's certificate at {path} cannot be used.",
        "Consoles know the station by it, so the network was not opened.",
        "Remove the file: a new one is made, and all consoles must be paired anew.",
    ),
    (
        "link_stalled",
        "The link to the screens does not answer.",
        "Stop on a screen may not be heard. There are no cues, and the session ends by itself.",
        "Stop running. If the session does not end, press Ctrl+C in its terminal.",
    ),
    (
        "gateway_lost",
        "The station's program for the network has ended or hangs; it is started anew.",
        "Consoles elsewhere cannot take part just now. The session and its own screens go on.",
        "Wait some seconds. If it stays so, end the session with Stop and look at the network.",
    ),
    (
        "console_lost",
        "The link to a console is lost ({names}).",
        "The session goes on with the targets as they are.",
        "Check the console and its network. It joins again by itself.",
    ),
    (
        "console_unknown",
        'There is no console called "{name}".',
        "Nothing was changed.",
        "Paired: {known}.",
    ),
    (
        "station_swapped",
        'What answers at {address} is not the station "{name}": its certificate is another one.',
        "Nothing was sent to it. Somebody may be in between, or the station was set up anew.",
        "If it was set up anew: remove it here with 'beltside stations --remove', then pair again.",
    ),
    (
        "station_silent",
        "No station answers at {address} ({why}).",
        "Nothing is shown and nothing was changed.",
        "Check that the station runs with --network, the address, and the network.",
    ),
    (
        "station_not_found",
        "No station {which}was found on the network.",
        "Nothing is shown and nothing was changed.",
        "{do}",
    ),
    (
        "pairing_closed",
        "The station at {address} pairs nobody just now.",
        "Nothing is shown and nothing was changed.",
        "A person at the station opens pairing: beltside pair.",
    ),
    (
        "pairing_locked",
        "Pairing has ended: the code was tried wrongly too often, by {who}.",
        "No console was paired, and no code is taken any more.",
        "If that was somebody else: end the session, and pair with 'beltside pair --from ADDRESS', "
        "with the address that the wanted console shows.",
    ),
    (
        "pairing_failed",
        "The console was not paired ({why}).",
        "Nothing is shown and nothing was changed.",
        "{do}",
    ),
)
