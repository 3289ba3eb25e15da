"""``beltside check``: put the camera up and have it checked, before anybody runs."""

from __future__ import annotations

import argparse

from feedback.camera_check.station import CheckOrder, CheckOutcome, CheckStation
from feedback.cli.common.hold_session import source_of
from feedback.cli.common.pose_model import model_path
from feedback.cli.common.tell import note
from feedback.screens.widgets.launch import ScreenProcess, spawn_setup_screen
from feedback.terminal.guard import OK, PROBLEM, Interrupted, say
from feedback.terminal.output import never_wait
from feedback.texts.camera_check import tell
from live.pose.model import PoseModel
from shared.flow import View
from shared.language import _, within
from shared.pictures import Check, CheckReport, CheckState


def run(options: argparse.Namespace) -> int:
    """Check the camera. Raises UserError when there is no camera, model or screen."""
    outcome = hold_check(options, options.view)
    if not outcome.accepted:
        say(_("The camera check was closed; no place was saved."))
        return PROBLEM if options.headless else OK
    say(_kept(outcome))
    return OK


def hold_check(options: argparse.Namespace, view: View) -> CheckOutcome:
    """Hold one check on the screen, or in the terminal with ``--headless``.

    Raises UserError, or Interrupted after Ctrl+C.
    """
    # A video is a camera here, and goes on for as long as it takes.
    source = source_of(argparse.Namespace(**{**vars(options), "loop": True}))
    path = model_path(options.model)
    source.open()
    source.close()

    def spawn(port: int, token: str) -> ScreenProcess:
        return spawn_setup_screen(port, token, windowed=options.windowed)

    never_wait()
    station = CheckStation(
        CheckOrder(
            view=view,
            source=source,
            model=PoseModel(path),
            spawn_screen=None if options.headless else spawn,
            watch=_Lines() if options.headless else None,
            give_up_s=options.seconds if options.headless else None,
        )
    )
    try:
        if not options.headless:
            say(_("The camera check is open: it says what to do. Enter continues, Esc exits."))
        outcome = station.run()
    finally:
        station.close()
    if outcome.signal_number is not None:
        raise Interrupted(outcome.signal_number)
    if outcome.save_problem is not None:
        note(outcome.save_problem)
    return outcome


def _kept(outcome: CheckOutcome) -> str:
    left = [] if outcome.report is None else _open_checks(outcome.report)
    watched = outcome.place is not None and outcome.place.edges is not None
    belt = _("with the ends of the belt") if watched else _("without the ends of the belt")
    all_well = _("All checks passed") if not left else _("Not passed yet: ") + ", ".join(left)
    kept = (
        _("This place is kept, {belt}.").format(belt=belt)
        if outcome.place is not None
        else _("The place is not saved.")
    )
    return f"{all_well}. {kept}"


def _open_checks(report: CheckReport) -> list[str]:
    return [
        within(tell(check.advice).rstrip("."))
        for check in report.checks
        if check.standing is CheckState.TO_DO
    ]


class _Lines:
    """Prints each check when it changes; for a terminal alone."""

    def __init__(self) -> None:
        self._told: dict[str, tuple[CheckState, str]] = {}

    def __call__(self, report: CheckReport) -> None:
        for check in report.checks:
            stands = (check.standing, check.advice)
            if self._told.get(check.key) != stands:
                self._told[check.key] = stands
                say(f"  {check.key:<11} {_in_words(check)}")


def _in_words(check: Check) -> str:
    words = tell(f"standing_{check.standing}")
    return f"{words}: {tell(check.advice)}" if check.advice else words
