"""What is put down and shown at a session's end, also where the work thread hangs."""

from __future__ import annotations

import msgspec

from feedback.journal.entries import ProblemEntry, StateEntry
from feedback.journal.writer import Journal
from feedback.session.interface import StopAsked
from feedback.session.session import Session
from feedback.station.worker import WorkCounts
from shared.clock import now_ns
from shared.messages import SessionState, Snapshot, StopReason
from shared.problems import Problem


def write_for_the_worker(journal: Journal, problem: Problem, asked: StopAsked) -> None:
    """Put down what the work thread cannot, since it hangs."""
    at_ns = now_ns()
    journal.write(ProblemEntry(at_ns=at_ns, problem=problem, over=False))
    state = StateEntry(
        at_ns=at_ns,
        state=SessionState.STOPPED,
        reason=asked.reason,
        source=asked.source,
        asked_ns=asked.asked_ns,
    )
    journal.write(state)


def close_record(journal: Journal, session: Session, counts: WorkCounts, *, ended: bool) -> None:
    """Close the journal, with a summary where the session's state can still be trusted."""
    summary = None
    if ended and counts.problem is None:
        summary = msgspec.structs.replace(
            session.summary(now_ns(), counts.measures),
            standing=counts.standing,
            unmeasured=counts.unmeasured,
        )
    journal.close(summary)


def with_what_is_known(
    last: Snapshot,
    at_ns: int,
    problem: Problem | None,
    stopped: tuple[StopReason, bool | None] | None = None,
) -> Snapshot:
    """The work thread's newest snapshot with what it cannot know itself.

    ``stopped``: why the session ended, and whether it was saved.
    """
    others = tuple(p for p in last.problems if problem is None or p.code != problem.code)
    shown = others if problem is None else (problem, *others)
    last = msgspec.structs.replace(last, at_ns=at_ns, problems=shown)
    if problem is not None:  # values that nobody follows any more, or that are the fault
        last = msgspec.structs.replace(last, focus=None, readings=())
    if stopped is not None:
        reason, saved = stopped
        last = msgspec.structs.replace(
            last, state=SessionState.STOPPED, stop_reason=reason, saved=saved
        )
    return last
