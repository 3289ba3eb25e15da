"""Whether it can be told how long ago a plan's last session was, with a clock that may be wrong."""

from __future__ import annotations

import contextlib
from datetime import UTC, datetime

from feedback.athlete_files.plan_log import PlanLog
from feedback.records.wall_clock import rest_unknown
from feedback.records.wording import in_words
from feedback.training.plan import Proposal
from shared.language import _
from shared.problems import UserError
from shared.targets import Prescription


def rest_problem(
    prescription: Prescription, log: PlanLog, proposal: Proposal | None, now_s: int
) -> UserError | None:
    """``rest_unknown`` with all times, where the next session needs a rest; None where none."""
    needed_h = 0.0
    if proposal is not None and proposal.session is not None:
        needed_h = proposal.session.hours_after
    if not log.done or not needed_h:
        return None
    written = None
    with contextlib.suppress(ValueError):
        written = datetime.fromisoformat(prescription.written_utc)
    if written is not None and written.tzinfo is None:
        written = written.replace(tzinfo=UTC)
    last_s = log.done[-1].started_unix_s
    if not rest_unknown(now_s, last_s, None if written is None else written.timestamp()):
        return None
    return UserError(
        "rest_unknown",
        now=_words(now_s),
        last=_words(last_s),
        written="a time that cannot be read" if written is None else in_words(written),
        hours=f"{needed_h:g}",
    )


def _words(unix_s: int) -> str:
    try:
        return in_words(datetime.fromtimestamp(unix_s, tz=UTC))
    except (ValueError, OverflowError, OSError):
        return _("{unix_s} s after 1970").format(unix_s=unix_s)
