"""``beltside receive``: takes in the result of a session held at home."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.athlete_files.plan_log import read_result
from feedback.athlete_files.prescriptions import read_prescription
from feedback.athlete_files.signatures import own_public
from feedback.cli.common.archive import open_archive
from feedback.journal.writer import sessions_folder
from feedback.records.answers import NOTHING, Taken, why_refused
from feedback.records.aside import all_aside
from feedback.records.home_results import (
    check_vouched,
    check_whose,
    checked,
    digest_received,
    prescriptions_here,
    received_aside,
    save_received,
)
from feedback.records.people import People
from feedback.records.sync import sync
from feedback.storage.settings import data_folder, read_settings
from feedback.terminal.guard import OK, say
from shared.identity import id_of
from shared.language import _
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
    # All that can be wrong with it comes to light before anything is written.
    found = digest_received(received)
    with open_archive() as store:
        if options.athlete is not None:
            people = People(store)
            meant = people.meant(options.athlete)
            if len(meant) > 1:
                meant = (people.find(options.athlete),)  # which says that it may be several
            ids = [one.athlete_id for one in meant]
            check_whose(options.file, received, options.athlete, ids)
        taken = [Taken(one) for one in store.digests(id_of(found))]
        aside = all_aside()[0]
        taken += [Taken(one, aside=True) for one in received_aside(aside)]
        refused = why_refused(
            result,
            found,
            taken,
            store.erased(),
            frozenset(one.note.uid for one in aside),
            confirmed=options.confirmed,
        )
        if refused is not None:
            raise _refused(options.file, *refused)
        if store.holds(found.uid):  # in a row that cannot be read any more
            raise _refused(options.file, _("it has already been accepted"), _(NOTHING))
        path = save_received(received, sessions_folder())
        sync(store, sessions_folder())
        if not store.holds(found.uid):
            raise _refused(
                options.file,
                _("the store did not accept it"),
                _("It is kept in {path}.").format(path=path),
            )
    if not received.prescription.signature:
        say(
            _(
                "Note: its prescription is not signed. There is no proof that it was written here, "
                "and the report says so."
            )
        )
    say(
        _("Taken in: {name}, session {number} of {begun}.").format(
            name=result.code_name, number=result.session.number, begun=result.started_utc
        )
    )
    return OK


def _refused(path: Path, why: str, do: str) -> UserError:
    return UserError("result_refused", path=str(path), why=why, do=do)
