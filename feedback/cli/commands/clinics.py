"""``beltside clinics``: whose prescriptions this computer runs; accept or forget a clinic's key."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import short
from feedback.athlete_files.trust import accept, known_keys, remove
from feedback.cli.common.hold_session import ask_yes_no
from feedback.terminal.guard import OK, say
from shared.language import _
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """List them, accept one or forget one. Raises UserError."""
    if options.accept is not None:
        _accept(options.accept.expanduser(), yes=options.yes)
    elif options.remove is not None:
        remove(options.remove)
        say(
            _("Removed: {remove}. Its prescriptions no longer run here.").format(
                remove=options.remove
            )
        )
    else:
        _list()
    return OK


def _list() -> None:
    known = known_keys()
    for key, words in known.items():
        say(f"{short(key)}  {words}")
    if not known:
        say(
            _(
                "No key is known here yet. The key of the first prescription is taken to be the "
                "clinic's."
            )
        )


def _accept(path: Path, *, yes: bool) -> None:
    prescription = read_prescription(path)
    if not prescription.signature:
        raise UserError("prescription_unsigned", path=str(path))
    known = known_keys()
    new = short(prescription.signed_by)
    if prescription.signed_by in known:
        say(
            _("{new} is already known here: {known}.").format(
                new=new, known=known[prescription.signed_by]
            )
        )
        return
    for key, words in known.items():
        say(_("Known so far:  {short}  {words}").format(short=short(key), words=words))
    say(
        _("New:           {new}  in {path}, a prescription for {code_name}").format(
            new=new, path=path, code_name=prescription.code_name
        )
    )
    say(_("Anyone with this key can set speeds, limits and cautions for runs on this computer."))
    say(
        _(
            "Ask your clinic to read you the four groups shown by its 'beltside clinics'. They "
            "must match."
        )
    )
    if yes or ask_yes_no(_("Do they match, and do you want to accept this key?")) is True:
        accept(prescription)
        say(_("Accepted: {new}. Keys accepted earlier stay accepted.").format(new=new))
        say(_('To remove one: beltside clinics --remove "FOUR GROUPS"'))
    else:
        say(_("Nothing was changed."))
