"""What the station says to a console that does not come in, and consoles to people (pure)."""

from __future__ import annotations

from typing import Final

from shared.language import Said, Text, made

PHRASES: Final[dict[str, str]] = {
    "order": "The station did not understand this console.",
    "protocol": "This console uses link version {theirs} and the station uses {ours}. Install the "
    "same version on both.",
    "unpaired": "The station does not know this console. To pair it, run 'beltside pair' at the "
    "station.",
    "pairing": "Pairing is not open. To open it, run 'beltside pair' at the station.",
    "pairing_elsewhere": "Pairing is open only for a console at another address.",
    "pairing_too_often": "Too many wrong codes came from here. Open pairing again at the station.",
    "code": "The code was wrong or has expired.",
    "no_session": "The station is only pairing consoles now: no session is running.",
    "full": "The station already has as many consoles as it allows.",
    "twice": "This console is already connected twice.",
    "broke": "The connection was lost.",
    "no_such_name": "there is no computer with this name",
    "no_answer": "nothing answers",
    "not_a_station": "what answers is not a station",
    "silent": "No data from the station for some seconds.",
    "swapped": "The computer that answered is not the paired station: its certificate is "
    "different. Nothing was sent to it.",
    "not_sent": "No connection to the station: this was not sent.",
    "not_answered": "The connection was lost before the station answered. Check the current "
    "settings before you try again.",
    "stop_earlier": "Stop was requested in an earlier session but did not reach it. This session "
    "has not been stopped.",
    "removed": "This console was removed from the station's list.",
}


def phrase(key: str, **values: object) -> Text:
    """The text of ``key`` with its places filled in; KeyError is a programming error."""
    return made(Said(PHRASES[key], key=f"network.{key}"), values)
