"""``beltside clinics``: whose prescriptions this computer runs; accept or forget a clinic's key."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import short
from feedback.athlete_files.trust import accept, known_keys, remove
from feedback.cli.common.hold_session import ask_yes_no
from feedback.terminal.guard import OK, say
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """List them, accept one or forget one. Raises UserError."""
    if options.accept is not None:
        _accept(options.accept.expanduser(), yes=options.yes)
    elif options.remove is not None:
        remove(options.remove)
        say(f"Forgotten: {options.remove}. Its prescriptions are not run here any more.")
    else:
        _list()
    return OK


def _list() -> None:
    known = known_keys()
    for key, words in known.items():
        say(f"{short(key)}  {words}")
    if not known:
        say(
            "No key is known here yet. The one of the first prescription is taken for the clinic's."
        )


def _accept(path: Path, *, yes: bool) -> None:
    prescription = read_prescription(path)
    if not prescription.signature:
        raise UserError("prescription_unsigned", path=str(path))
    known = known_keys()
    new = short(prescription.signed_by)
    if prescription.signed_by in known:
        say(f"{new} is known here already: {known[prescription.signed_by]}.")
        return
    for key, words in known.items():
        say(f"Known so far:  {short(key)}  {words}")
    say(f"New:           {new}  in {path}, a prescription for {prescription.code_name}")
    say("Whoever has this key can set speeds, limits and cautions for runs on this computer.")
    say("Your clinic reads you its four groups from 'beltside clinics'. They must be the same.")
    if yes or ask_yes_no("Are they, and shall this key be accepted?") is True:
        accept(prescription)
        say(f"Accepted: {new}. What was known before stays known.")
        say('To end that for one of them: beltside clinics --remove "FOUR GROUPS"')
    else:
        say("Nothing was changed.")
