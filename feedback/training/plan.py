"""Which session of a plan is next, and whether the last one allows to go on (pure).

The rules on pain follow the pain-monitoring model: not over its limit, back to where it was by the
next morning, not rising from week to week (Silbernagel et al. 2007, secondary summary). Whatever
is not known counts as no: a session whose pain was never answered is not gone on from.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from shared.messages import StopReason
from shared.targets import Limits, Plan, PlanSession, SessionKind

ENOUGH_DONE: Final = 0.8
"""Share of the planned time that makes a session count (common practice, no source)."""
HOUR_S: Final = 3600
WEEK_S: Final = 7 * 24 * HOUR_S
MOST_SESSIONS: Final = 10_000
"""Held with one prescription."""
MOST_UNIX_S: Final = 2**34
MOST_LEVEL: Final = 300
"""Far beyond any ramp."""


class Done(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One session that was held; ratings are 0 to 10, None where there was no answer."""

    number: Annotated[int, Meta(ge=1, le=MOST_SESSIONS)]
    """In its plan, from 1."""
    started_unix_s: Annotated[int, Meta(ge=0, le=MOST_UNIX_S)]
    share_done: Annotated[float, Meta(ge=0)]
    """Of the planned running time."""
    stop_reason: StopReason
    pain_worst: Annotated[int, Meta(ge=0, le=10)] | None = None
    effort: Annotated[int, Meta(ge=0, le=10)] | None = None
    awkwardness: Annotated[int, Meta(ge=0, le=10)] | None = None
    settled_by_morning: bool | None = None
    """Whether the pain was back to where it was by the next morning; None: not asked yet."""
    levels: dict[str, Annotated[int, Meta(ge=0, le=MOST_LEVEL)]] = {}
    """How far up its ramp each goal was at the end."""


class Step(StrEnum):
    """What the plan proposes."""

    BEGIN = "begin"
    GO_ON = "go_on"
    REPEAT = "repeat"
    """The same session again: no progress."""
    FINISHED = "finished"


class Proposal(msgspec.Struct, frozen=True, kw_only=True):
    """The next session."""

    step: Step
    number: int
    """Of the session proposed, from 1; of the last one once the plan is finished."""
    session: PlanSession | None
    reasons: tuple[str, ...] = ()
    """Why there is no progress: keys ``hold_...`` in feedback.texts.runner."""
    wait_h: float = 0.0
    """Hours still to rest before it."""
    levels: dict[str, int] = {}
    """Where the ramps begin."""


def propose(plan: Plan, done: Sequence[Done], limits: Limits, now_unix_s: int) -> Proposal:
    """The next session after those in ``done``, in the order in which they were held."""
    if not done:
        return Proposal(step=Step.BEGIN, number=1, session=plan.sessions[0])
    last = done[-1]
    reasons = holding_back(done, limits)
    number = last.number if reasons else last.number + 1
    if number > len(plan.sessions):
        return Proposal(step=Step.FINISHED, number=last.number, session=None)
    session = plan.sessions[number - 1]
    rested_s = now_unix_s - last.started_unix_s
    return Proposal(
        step=Step.REPEAT if reasons else Step.GO_ON,
        number=number,
        session=session,
        reasons=reasons,
        # A clock that was set back makes the last session one of the future: no rest is longer.
        wait_h=min(session.hours_after, max(0.0, session.hours_after - rested_s / HOUR_S)),
        levels=last.levels,
    )


def holding_back(done: Sequence[Done], limits: Limits) -> tuple[str, ...]:
    """Why the plan may not go on after the last session; empty when it may."""
    last = done[-1]
    found = []
    if last.stop_reason is StopReason.PAIN or _over(last.pain_worst, limits.pain_stop_over):
        found.append("hold_pain_over")
    elif last.pain_worst is None:
        found.append("hold_pain_unknown")
    if last.settled_by_morning is False:
        found.append("hold_not_settled")
    elif last.settled_by_morning is None:
        found.append("hold_morning_unknown")
    if _rising(done, limits):
        found.append("hold_pain_rising")
    if last.effort is not None and last.effort >= limits.effort_caution_from:
        found.append("hold_effort")
    if last.share_done < ENOUGH_DONE:
        found.append("hold_not_completed")
    return tuple(found)


def shares(plan: Plan) -> tuple[float, ...]:
    """Share of the running time with cues, by practice session."""
    return tuple(
        session.cued_min / session.run_min
        for session in plan.sessions
        if session.kind is SessionKind.PRACTICE
    )


def _over(pain: int | None, limit: int) -> bool:
    return pain is not None and pain > limit


def _rising(done: Sequence[Done], limits: Limits) -> bool:
    """Whether the worst pain of these seven days tops the week before, from caution on."""
    since = done[-1].started_unix_s - WEEK_S
    lately = [one.pain_worst for one in done if one.started_unix_s > since]
    before = [one.pain_worst for one in done if since - WEEK_S < one.started_unix_s <= since]
    now = max((pain for pain in lately if pain is not None), default=0)
    was = max((pain for pain in before if pain is not None), default=None)
    return was is not None and now > was and now >= limits.pain_caution_from
