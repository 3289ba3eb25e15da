"""``beltside home``: a prescription run at home, led from the camera check to the result file."""

from __future__ import annotations

import argparse
from pathlib import Path

from feedback.athlete_files.plan_log import others_here, read_log
from feedback.cli.commands.session import (
    admit_to_run,
    announce,
    ask_the_morning,
    hold_and_save,
    session_due,
)
from feedback.cli.common.hold_session import cautions_confirmed
from feedback.cli.common.home_pages import lead
from feedback.cli.common.keep_records import look_at_age
from feedback.terminal.guard import OK, say
from shared.flow import View
from shared.language import _, mark
from shared.targets import Prescription

_PLACES = {
    View.SIDE: mark(
        "beside the belt, 2 to 4 metres away, at hip height, turned slightly towards your front"
    ),
    View.BEHIND: mark(
        "behind the belt, outside the 2 m x 1 m safety space, at hip height, in line with the belt"
    ),
    View.FRONT: mark("in front of the belt, at hip height, in line with the belt"),
}


def run(options: argparse.Namespace) -> int:
    """Lead through one session. Raises UserError when it cannot or may not be begun."""
    return _in_the_terminal(options) if options.headless else lead(options)


def _in_the_terminal(options: argparse.Namespace) -> int:
    look_at_age()
    path = Path(options.file).expanduser()
    admitted = admit_to_run(options, path)
    prescription = admitted.prescription
    log = read_log(prescription)
    say(_("1 of 5: How it went"))
    log, morning = ask_the_morning(options, prescription, log)
    today = session_due(options, prescription, log, alone=True)
    announce(admitted, today)
    others = others_here(prescription)
    if others:
        say(
            _("Note: so far this computer has been used by {names}. Is this your own file?").format(
                names=", ".join(others)
            )
        )
    _camera(prescription)
    say(_("3 of 5: Safety"))
    if not cautions_confirmed(options):
        say(_("Nothing was started."))
        return OK
    say(_("4 of 5: The run"))
    code, out = hold_and_save(options, path, admitted, today, morning)
    say(_("5 of 5: Send it"))
    say(_("Send this one file to your clinic: {out}").format(out=out))
    return code


def _camera(prescription: Prescription) -> None:
    say(_("2 of 5: The camera"))
    say(_("Place it {places}.").format(places=_(_PLACES[prescription.view])))
    say(_("Keep your head and feet in the picture at all times, and nobody else."))
    say(
        _("The belt will run at {belt_speed_kmh:g} km/h while you practise.").format(
            belt_speed_kmh=prescription.belt_speed_kmh
        )
    )
    say(_("To check it: beltside check --view {view} --headless").format(view=prescription.view))
