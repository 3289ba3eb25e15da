"""``beltside receive``: takes in the result of a session held at home."""

from __future__ import annotations

import argparse

from feedback.commands.archive import open_archive
from feedback.guard import OK, say
from feedback.prescriptions import read_prescription
from feedback.progress import read_result
from feedback.records.journal import sessions_folder
from feedback.records.people import People
from feedback.records.received import (
    check_vouched,
    check_whose,
    checked,
    prescriptions_here,
    save_received,
    uid_of_result,
)
from feedback.records.settings import data_folder, read_settings
from feedback.records.syncing import sync
from feedback.signing import own_public
from shared.problems import UserError


def run(options: argparse.Namespace) -> int:
    """Take it in. Raises UserError ``result_refused`` where it does not belong here."""
    result = read_result(options.file.expanduser())
    signers = {key for key in (own_public(data_folder()), *read_settings().signers) if key}
    known = list(prescriptions_here())
    if options.prescription is not None:
        given = read_prescription(options.prescription.expanduser())
        check_vouched(options.file, given, signers, accept_unsigned=options.accept_unsigned)
        known.append(given)
    received = checked(
        options.file,
        result,
        known,
        signers,
        accept_unsigned=options.accept_unsigned,
    )
    with open_archive() as store:
        if options.athlete is not None:
            people = People(store)
            meant = people.meant(options.athlete)
            if len(meant) > 1:
                meant = (people.find(options.athlete),)  # which says that it may be several
            ids = [one.athlete_id for one in meant]
            check_whose(options.file, received, options.athlete, ids)
        uid = uid_of_result(result)
        if store.holds(uid):
            why = "it has been taken in before"
            raise UserError("result_refused", path=options.file, why=why, do="Nothing is to do.")
        if uid in store.erased():
            why = "its session was erased on purpose"
            raise UserError("result_refused", path=options.file, why=why, do="Nothing is to do.")
        save_received(received, sessions_folder())
        sync(store, sessions_folder())
    if not received.prescription.signature:
        say(
            "Note: its prescription is not signed. That it was written here cannot be proved, and "
            "the report says so."
        )
    say(f"Taken in: {result.code_name}, session {result.session.number} of {result.started_utc}.")
    return OK
