"""What the station says to a console that does not come in, and consoles to people (pure)."""

from __future__ import annotations

from typing import Final

PHRASES: Final[dict[str, str]] = {
    "order": "This is not how a console of ours speaks.",
    "protocol": "This console speaks version {theirs} of the link and the station speaks {ours}. "
    "Install the same version at both.",
    "unpaired": "The station does not know this console. Pair it: a person at the station opens "
    "pairing with 'beltside pair'.",
    "pairing": "Pairing is not open. A person at the station opens it with 'beltside pair'.",
    "pairing_elsewhere": "Pairing is open for a console at another address only.",
    "pairing_too_often": "Wrong codes came from here too often. A person at the station opens "
    "pairing anew.",
    "code": "The code was not the right one, or its time was over.",
    "no_session": "The station only pairs consoles just now: no session is on.",
    "full": "As many consoles take part already as the station has places for.",
    "twice": "This console takes part twice already.",
    "broke": "The connection broke off.",
    "no_such_name": "there is no computer of this name",
    "no_answer": "nothing answers",
    "not_a_station": "what answers is not a station",
    "silent": "Nothing has come from the station for some seconds.",
    "swapped": "What answers is not the station that was paired: its certificate is another one. "
    "Nothing was sent to it.",
    "not_sent": "There is no link to the station: this was not sent.",
    "not_answered": "The link broke before the station answered. See what holds before trying "
    "again.",
    "stop_earlier": "Stop was asked for in an earlier session, and did not reach it. This one has "
    "not been stopped.",
    "removed": "This console was removed from the station's list.",
}


def phrase(key: str, **values: object) -> str:
    """The text of ``key`` with its places filled in; KeyError is a programming error."""
    return PHRASES[key].format(**values)
