"""A prescription's session of today: which one, how it begins, what comes of it (pure)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import msgspec

from feedback.athlete_files.plan_log import PlanLog, Result
from feedback.training.block_results import BlockResult, answers_of
from feedback.training.drill import PLAIN_CADENCE_SPM, DrillRun, RunBlock, lay_out, planned_ns
from feedback.training.plan import Done, Proposal, Step, propose
from shared.catalogue import CADENCE
from shared.messages import StopReason
from shared.problems import UserError
from shared.targets import Limits, Plan, PlanSession, Prescription, Question, SessionKind
from shared.units import NS_PER_S

GRAVE: Final = frozenset({"hold_pain_over", "hold_not_settled", "hold_pain_rising"})
"""Reasons for which a runner alone at home does not go on without asking the clinic."""

LIMITS: Final = tuple(
    field.name for field in msgspec.structs.fields(Limits) if field.default is not None
)
"""Of each of them the lower one is the stricter one."""
PAIN_EVERY_MIN: Final = 5.0


@dataclass(frozen=True)
class Today:
    """The session that is due."""

    proposal: Proposal | None
    """None without a plan."""
    number: int
    kind: SessionKind
    blocks: tuple[RunBlock, ...]
    planned_ns: int
    levels: dict[str, int]
    shorten: float
    session: PlanSession | None

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why the plan does not go on; empty when it does."""
        return () if self.proposal is None else self.proposal.reasons

    def course(self, prescription: Prescription) -> DrillRun:
        """Its way through the blocks, from the start."""
        return DrillRun(
            self.blocks,
            prescription.goals,
            prescription.drill,
            prescription.limits,
            self.levels,
            self.shorten,
        )


def within_own_limits(given: Prescription) -> Prescription:
    """A prescription that nobody has signed, with none of its limits looser than the program's own.

    Stricter ones stay. Pain is asked at least as often as where a drill says nothing of it.
    """
    own = Limits()
    limits = msgspec.structs.replace(  # where the program has no limit, any is a stricter one
        given.limits,
        **{name: min(getattr(given.limits, name), getattr(own, name)) for name in LIMITS},
    )
    asked = given.drill.ask_at_end
    drill = msgspec.structs.replace(
        given.drill,
        pain_every_min=min(given.drill.pain_every_min, PAIN_EVERY_MIN),
        ask_at_end=asked if Question.PAIN in asked else (Question.PAIN, *asked),
    )
    return msgspec.structs.replace(given, limits=limits, drill=drill)


def asks_for_the_morning(log: PlanLog) -> bool:
    """Whether the morning after the last session is still to be asked about."""
    return bool(log.done) and log.done[-1].settled_by_morning is None


def with_morning(log: PlanLog, settled: bool) -> PlanLog:
    """The log with that answer to its last session."""
    last = msgspec.structs.replace(log.done[-1], settled_by_morning=settled)
    return msgspec.structs.replace(log, done=(*log.done[:-1], last))


def todays_session(
    prescription: Prescription,
    log: PlanLog,
    now_unix_s: int,
    number: int | None = None,
    shorten: float = 1.0,
) -> Today:
    """What is due now, or session ``number`` of the plan where one is asked for.

    Raises UserError: ``plan_finished`` after the last session, ``session_unknown`` for a number
    that the plan does not have.
    """
    proposal: Proposal | None = None
    session: PlanSession | None = None
    levels = log.done[-1].levels if log.done else {}
    if prescription.plan is None:
        number = len(log.done) + 1
    else:
        proposal = propose(prescription.plan, log.done, prescription.limits, now_unix_s)
        if number is None and proposal.step is Step.FINISHED:
            raise UserError("plan_finished")
        number = proposal.number if number is None else number
        session = _session(prescription.plan, number)
    blocks = lay_out(prescription.drill, prescription.belt_speed_kmh, session, number, shorten)
    own = next((g.own for g in prescription.goals if g.targets[0].measure == CADENCE), None)
    return Today(
        proposal=proposal,
        number=number,
        kind=SessionKind.PRACTICE if session is None else session.kind,
        blocks=blocks,
        planned_ns=planned_ns(blocks, own or PLAIN_CADENCE_SPM),
        levels=levels,
        shorten=shorten,
        session=session,
    )


def check_rested(today: Today) -> None:
    """Raises UserError ``too_early`` before the plan's rest is over."""
    if today.proposal is not None and today.proposal.wait_h > 0:
        raise UserError("too_early", hours=f"{today.proposal.wait_h:.0f}")


def check_agreed(today: Today) -> None:
    """Raises UserError ``ask_clinic`` when pain says no."""
    if GRAVE & set(today.reasons):
        raise UserError("ask_clinic")


@dataclass(frozen=True)
class HeldSession:
    """What is known of a session once it is over."""

    reason: StopReason
    started_utc: str
    started_unix_s: int
    ran_ns: int
    """Running time, without pauses."""
    blocks: tuple[BlockResult, ...]
    answers: dict[Question, int]
    """Given after the run; what was not answered is left out."""
    levels: dict[str, int]
    session_id: str = ""
    """That of its record, made as it began."""


def done_of(today: Today, held: HeldSession) -> Done:
    """The session as the plan's log keeps it."""
    pains = answers_of(held.blocks, Question.PAIN)
    if Question.PAIN in held.answers:
        pains = (*pains, held.answers[Question.PAIN])
    return Done(
        number=today.number,
        started_unix_s=held.started_unix_s,
        share_done=round(held.ran_ns / max(1, today.planned_ns), 3),
        stop_reason=held.reason,
        pain_worst=max(pains, default=None),
        effort=held.answers.get(Question.EFFORT, _last(held.blocks, Question.EFFORT)),
        awkwardness=held.answers.get(
            Question.AWKWARDNESS, _last(held.blocks, Question.AWKWARDNESS)
        ),
        levels=held.levels,
    )


def result_of(
    prescription: Prescription,
    today: Today,
    held: HeldSession,
    made_with: str,
    source: str,
    trial: bool,
    morning: bool | None,
) -> Result:
    """The session as it is sent back."""
    return Result(
        made_with=made_with,
        prescription=prescription.check,
        signed_by=prescription.signed_by,
        signature=prescription.signature,
        code_name=prescription.code_name,
        athlete_id=prescription.athlete_id,
        view=prescription.view,
        belt_speed_kmh=prescription.belt_speed_kmh,
        source=source,
        trial=trial,
        started_utc=held.started_utc,
        session=done_of(today, held),
        kind=today.kind,
        planned_s=today.planned_ns / NS_PER_S,
        blocks=held.blocks,
        morning=morning,
        session_id=held.session_id,
    )


def _last(blocks: tuple[BlockResult, ...], question: Question) -> int | None:
    answers = answers_of(blocks, question)
    return answers[-1] if answers else None


def _session(plan: Plan, number: int) -> PlanSession:
    if not 1 <= number <= len(plan.sessions):
        raise UserError("session_unknown", number=number, count=len(plan.sessions))
    return plan.sessions[number - 1]
