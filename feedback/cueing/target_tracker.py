"""One target with all that judges and cues it (pure)."""

from __future__ import annotations

from feedback.cueing.cues import CuePlanner
from feedback.cueing.judge import Judge
from feedback.journal.entries import TargetSummary
from shared.flow import BandState, Judgement, Measure
from shared.targets import Target


class TargetTracker:
    """A target's judge and planner, and the count of its verdicts."""

    def __init__(self, target: Target) -> None:
        self.target = target
        self.judge = Judge(target)
        self.planner = CuePlanner(target)
        self.by_hand = False
        """A clinician has moved the target: the drill moves it no further."""
        self._judged = 0
        self._inside = 0

    @property
    def verdict(self) -> tuple[float | None, BandState]:
        """The newest value and where it lies; None and UNKNOWN while nothing can be said."""
        newest = self.judge.newest
        if newest is None or newest.state is BandState.UNKNOWN:
            return None, BandState.UNKNOWN
        return newest.value, newest.state

    def take(self, measure: Measure) -> Judgement | None:
        """Judge one measure; None when it does not bear on this target."""
        judgement = self.judge.update(measure)
        if judgement is not None and judgement.state is not BandState.UNKNOWN:
            self._judged += 1
            self._inside += judgement.state is BandState.INSIDE
        return judgement

    def aim_at(self, target: Target) -> None:
        """Hold the same measure to another band; recent steps and counts stay."""
        self.target = target
        self.judge.aim_at(target)
        self.planner.aim_at(target)

    def reset(self) -> None:
        """Forget the recent steps; the counts stay."""
        self.judge.reset()
        self.planner.reset()

    def expire(self, now_ns: int) -> None:
        """Reset when the last usable step is too long ago."""
        if self.judge.expire(now_ns):
            self.planner.reset()

    def summary(self) -> TargetSummary:
        """How the target was kept to so far."""
        return TargetSummary(
            measure=self.target.measure,
            side=self.target.side,
            unit=self.target.unit,
            low=self.target.low,
            high=self.target.high,
            judged=self._judged,
            inside=self._inside,
        )
