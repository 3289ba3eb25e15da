"""Runs a plan with the made-up runner, as fast as it goes, through the real session (pure)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from feedback.journal.entries import BlockEntry, CueEntry, Entry, TargetEntry
from feedback.session.interface import CaptureState, Facts, Rated, Start
from feedback.session.session import Session
from feedback.simulation.runner import Learner
from feedback.training.block_results import BlockResult, BlockTally, answers_of
from feedback.training.drill import PLAIN_CADENCE_SPM, DrillRun, RunBlock, lay_out, planned_ns
from feedback.training.goals import as_athlete
from feedback.training.plan import HOUR_S, Done, Proposal, Step, propose
from shared.flow import Cue
from shared.messages import SessionState, StopReason
from shared.targets import Prescription, Question, Target
from shared.units import NS_PER_S

DECIDED_AFTER_NS: Final = 15_000_000
"""From the picture to the decision, as live."""
FACTS: Final = Facts(capture=CaptureState.RUNNING, sound_on=True, frames_per_s=30.0)
LOOK_EVERY_STEPS: Final = 10
REST_H: Final = 48
MOST_SESSIONS: Final = 40


@dataclass(frozen=True)
class Rehearsed:
    """One session as the made-up runner ran it."""

    proposal: Proposal
    """The plan's proposal that was followed."""
    planned: tuple[RunBlock, ...]
    blocks: tuple[BlockResult, ...]
    cues: tuple[Cue, ...]
    targets: tuple[Target, ...]
    """Every target that was in force, in order."""
    done: Done


def rehearse(
    prescription: Prescription, learner: Learner, most: int = MOST_SESSIONS
) -> Iterator[Rehearsed]:
    """Session after session, until the plan is finished or ``most`` have been held.

    Raises ValueError for a prescription without a plan.
    """
    if prescription.plan is None:
        raise ValueError("there is no plan to rehearse")
    done: list[Done] = []
    unix_s = 0
    for _ in range(most):
        proposal = propose(prescription.plan, done, prescription.limits, unix_s)
        if proposal.step is Step.FINISHED:
            return
        unix_s += round(max(proposal.wait_h, 0 if not done else REST_H) * HOUR_S)
        held = _hold(prescription, proposal, learner, len(done) + 1, unix_s)
        done.append(held.done)
        yield held


def _hold(
    prescription: Prescription, proposal: Proposal, learner: Learner, count: int, unix_s: int
) -> Rehearsed:
    plan_session = proposal.session
    blocks = lay_out(prescription.drill, prescription.belt_speed_kmh, plan_session, proposal.number)
    course = DrillRun(
        blocks, prescription.goals, prescription.drill, prescription.limits, proposal.levels
    )
    limit_s = prescription.limits.longest_min * 60.0
    session = Session(
        as_athlete(prescription), prescription.view, time_limit_s=limit_s, course=course
    )
    run = _Run(session, course, learner, prescription, count)
    run.to_the_end(planned_ns(blocks, PLAIN_CADENCE_SPM))
    results = run.tally.results(learner.at_ns)
    pains = (*answers_of(results, Question.PAIN), learner.answer(Question.PAIN, count, 1.0))
    main_s = sum(block.seconds for block in results)
    done = Done(
        number=proposal.number,
        started_unix_s=unix_s,
        share_done=main_s * NS_PER_S / planned_ns(blocks, PLAIN_CADENCE_SPM),
        stop_reason=session.stop_reason or StopReason.FAULT,
        pain_worst=max(pains),
        effort=learner.answer(Question.EFFORT, count, 1.0),
        awkwardness=learner.answer(Question.AWKWARDNESS, count, 1.0),
        settled_by_morning=learner.settled(count),
        levels=course.levels,
    )
    return Rehearsed(
        proposal=proposal,
        planned=blocks,
        blocks=results,
        cues=tuple(run.cues),
        targets=tuple(run.targets),
        done=done,
    )


class _Run:
    """One session step by step."""

    def __init__(
        self,
        session: Session,
        course: DrillRun,
        learner: Learner,
        prescription: Prescription,
        count: int,
    ) -> None:
        self._session = session
        self._course = course
        self._learner = learner
        self._goals = prescription.goals
        self._count = count
        self.tally = BlockTally(as_athlete(prescription))
        self.cues: list[Cue] = []
        self.targets: list[Target] = []

    def to_the_end(self, planned: int) -> None:
        learner, session = self._learner, self._session
        begun_ns = learner.at_ns + NS_PER_S
        learner.begin(begun_ns)
        session.on_tick(begun_ns, FACTS)
        self._note(session.on_command(Start(), begun_ns).journal)
        beat_spm: float | None = None
        steps = 0
        while session.state is not SessionState.STOPPED:
            learner.follow(self._aimed())
            update = learner.step(beat_spm)
            now_ns = update.captured_ns + DECIDED_AFTER_NS
            outputs = session.on_update(update, now_ns)
            self._note(outputs.journal)
            # Only pictures of steps are fed: a tick between two would find the last one too old.
            self._note(session.on_tick(now_ns, FACTS).journal)
            beat_spm = outputs.beat_spm
            for cue in outputs.cues:
                learner.hear(cue)
            steps += 1
            if steps % LOOK_EVERY_STEPS == 0:
                self._answer(now_ns, (now_ns - begun_ns) / planned)

    def _aimed(self) -> dict[str, float]:
        levels = self._course.levels
        return {goal.name: goal.aimed[levels[goal.name]] for goal in self._goals if goal.aimed}

    def _answer(self, now_ns: int, share: float) -> None:
        asked = self._session.snapshot(now_ns).asked
        if asked is None:
            return
        value = self._learner.answer(asked, self._count, share)
        answer = Rated(what=asked, value=value, source="the simulated runner")
        self._note(self._session.on_command(answer, now_ns).journal)

    def _note(self, entries: tuple[Entry, ...]) -> None:
        for entry in entries:
            self.tally.take(entry)
            match entry:
                case CueEntry(cue=cue):
                    self.cues.append(cue)
                case TargetEntry(target=target):
                    self.targets.append(target)
                case BlockEntry(cued=target) if target is not None:
                    self.targets.append(target)
