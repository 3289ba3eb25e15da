"""The problems that consoles and stations meet on the network: part of shared.problems (pure).

Each row: code, what happened, what it means, what to do.
"""

from __future__ import annotations

from typing import Final

NETWORK: Final[tuple[tuple[str, str, str, str], ...]] = (
    (
        "network_failed",
        "The station cannot be reached over the network ({why}).",
        "Screens at the station keep working; consoles on other computers cannot connect.",
        "Choose another port with --port, or check the network and the firewall. Then start again.",
    ),
    (
        "announce_failed",
        "The station cannot be announced on the network ({why}).",
        "Consoles cannot find it automatically. Everything else works.",
        "Type its address at the console. Check the network and the firewall (UDP port 5353).",
    ),
    (
        "certificate_damaged",
        "The station's certificate at {path} cannot be used.",
        "Consoles recognise the station by it, so the network was not opened.",
        "Delete the file: a new one is made, and all consoles must be paired again.",
    ),
    (
        "link_stalled",
        "The link to the screens is not responding.",
        "Stop on a screen may not work. There are no cues, and the session ends automatically.",
        "Stop running. If the session does not end, press Ctrl+C in its terminal.",
    ),
    (
        "gateway_lost",
        "The station's network program has stopped or hangs; it is being restarted.",
        "Consoles on other computers are not connected now. The session and its own screens "
        "continue.",
        "Wait a few seconds. If this continues, end the session with Stop and check the network.",
    ),
    (
        "console_lost",
        "The connection to a console is lost ({names}).",
        "The session continues with the current targets.",
        "Check the console and its network. It reconnects automatically.",
    ),
    (
        "console_unknown",
        'There is no console called "{name}".',
        "Nothing was changed.",
        "Paired: {known}.",
    ),
    (
        "station_swapped",
        'The computer at {address} is not the station "{name}": its certificate is different.',
        "Nothing was sent to it. Someone may be intercepting the connection, or the station was "
        "set up again.",
        "If it was set up again: remove it here with 'beltside stations --remove', then pair "
        "again.",
    ),
    (
        "station_silent",
        "No station answers at {address} ({why}).",
        "Nothing is shown and nothing was changed.",
        "Check that the station was started with --network, and check the address and the network.",
    ),
    (
        "station_not_found",
        "No station {which}was found on the network.",
        "Nothing is shown and nothing was changed.",
        "{do}",
    ),
    (
        "feed_missing",
        "No session on this computer has a feed.",
        "There is nothing to read.",
        "Start the session with --feed, as the same user, then try again.",
    ),
    (
        "lsl_missing",
        "The Lab Streaming Layer's library is not installed.",
        "No streams were opened and nothing was started.",
        "Install it with 'pip install pylsl', or start without --lsl.",
    ),
    (
        "pairing_closed",
        "The station at {address} is not open for pairing.",
        "Nothing is shown and nothing was changed.",
        "Open pairing at the station with: beltside pair.",
    ),
    (
        "pairing_locked",
        "Pairing has ended: too many wrong codes were entered by {who}.",
        "No console was paired, and codes are no longer accepted.",
        "If that was someone else: end the session, and pair with 'beltside pair --from ADDRESS', "
        "using the address shown on the console you want.",
    ),
    (
        "pairing_failed",
        "The console was not paired ({why}).",
        "Nothing is shown and nothing was changed.",
        "{do}",
    ),
)
