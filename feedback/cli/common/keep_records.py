"""What is kept around a session: sessions past their time before it, track and report with it.

Nothing here may keep a session from being held, or lose one that was held: what fails is said in
plain words, and the command goes on.
"""

from __future__ import annotations

import argparse
import logging
import signal
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from feedback.cli.common.progress_bar import busy
from feedback.cli.common.tell import note
from feedback.journal.writer import Header, read_journal, sessions_folder
from feedback.records.aside import FOLDER as ASIDE_FOLDER
from feedback.records.moments import begins, clock_problem
from feedback.safety.hazards import Edges
from feedback.session.track_file import SUFFIX as TRACK_SUFFIX
from feedback.session.track_file import BaselineSetUp, DrillSetUp, Track, TrackHeader
from feedback.station.setup import SessionOutcome
from feedback.storage.settings import data_folder, read_settings
from feedback.terminal.guard import SIGNAL_BASE, say
from shared.language import _, mark
from shared.problems import UserError

if TYPE_CHECKING:
    from feedback.cli.common.hold_session import SessionResult

LATER = mark("Write it later with: beltside report")


def look_at_age(now: datetime | None = None) -> None:
    """Say what is wrong with the clock, and which sessions are past their time.

    These go where ``records.toml`` says so; ``now`` is the computer's clock.
    """
    now = datetime.now(tz=UTC) if now is None else now
    problem = clock_problem(now, max(begins(sessions_folder()), default=None))
    if problem is not None:
        note(problem)
        say(problem.action)
    try:
        settings = read_settings()
        if settings.keep_days is not None or (data_folder() / ASIDE_FOLDER).exists():
            # Loaded here: without a time that is set, no session waits for the database.
            from feedback.cli.common.old_sessions import look_at_age as look

            look(settings, now)
    except UserError as error:
        note(error.problem)


def open_track(
    options: argparse.Namespace,
    record: Path,
    header: Header,
    *,
    time_limit_s: float | None,
    cautions: bool,
    edges: Edges | None,
    course: DrillSetUp | BaselineSetUp | None = None,
) -> Track | None:
    """The landmark track beside a record, where it is asked for."""
    if not options.track:
        return None
    head = TrackHeader(
        session=header, time_limit_s=time_limit_s, cautions=cautions, edges=edges, course=course
    )
    return Track(record.with_suffix(TRACK_SUFFIX), head)


def tell_track(track: Track | None) -> None:
    """Say where the track is, or that it is not whole."""
    if track is None:
        return
    problem = track.problem()
    if problem is None:
        _say(_("Landmark track: {path}").format(path=track.path))
    else:
        _say(_("Note: the landmark track is incomplete. {title}").format(title=problem.title))


def write_report(options: argparse.Namespace, outcome: SessionOutcome, record: Path) -> None:
    """Write the report of a session that has been saved, and say where it is."""
    if not outcome.saved:
        return
    if outcome.signal_number is not None:
        _say(
            _("No report was written, because the program was closing. {later}").format(
                later=_(LATER)
            )
        )
        return
    if options.no_report:
        _say(_("No report was written, as you asked. {later}").format(later=_(LATER)))
        return
    try:
        with busy(_("Writing the report"), elsewhere=True):
            paths = _write_report(record)
    except UserError as error:
        _not_written(error.problem.title)
    except KeyboardInterrupt:
        _not_written(_("It was cancelled."))
    except Exception as error:
        # The session is saved: a fault in its report must not look like the loss of it.
        logging.getLogger("beltside").exception("no report of %s", record)
        _not_written(
            _("The program failed unexpectedly ({name__}).").format(name__=type(error).__name__)
        )
    else:
        if not paths:
            _say(_("No report: nobody ran."))
        for path in paths:
            _say(f"Report: {path}")


def finish(options: argparse.Namespace, held: SessionResult, code: int) -> int:
    """Write the report; stay while somebody may note or rate something, and write it anew then.

    ``code`` is the exit code so far; returns the one to end with.
    """
    station = held.station
    write_report(options, held.outcome, held.record)
    reported = len(station.added)
    if station.may_add:
        _say(
            _(
                "You can still add notes and ratings: while the panel is open, and from consoles "
                "for "
                "ten minutes. Close the panel or press Ctrl+C to finish."
            )
        )
    number = station.stay()
    new = len(station.added) - reported
    if new:
        _say(
            _("1 note or rating was added.")
            if new == 1
            else _("{new} notes and ratings were added.").format(new=new)
        )
        if number in (None, signal.SIGINT):
            write_report(options, held.outcome, held.record)
        else:
            _say(
                _("They are not in the report, because the program was closing. {later}").format(
                    later=_(LATER)
                )
            )
    return code if number in (None, signal.SIGINT) else SIGNAL_BASE + number


def _write_report(record: Path) -> tuple[Path, ...]:
    from feedback.cli.common.pages import write_page
    from feedback.records.report import session_report
    from feedback.records.reports import report_folder, stem_of
    from feedback.records.summarise import read_whole

    found, points = read_whole(read_journal(record))
    if not found.run_s and not found.unmeasured:
        return ()
    page = session_report(found, points)
    return write_page(page, None, report_folder(found) / stem_of(record.name))


def _not_written(why: str) -> None:
    _say(
        _(
            "Note: the report could not be written. {why} The session itself is saved. {later}"
        ).format(why=why, later=_(LATER))
    )


def _say(text: str) -> None:
    say(text)
