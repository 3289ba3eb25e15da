"""What a mean of a session is compared with, and whether it has changed (pure).

Report, progress and whatever else tells of a change ask here, so that they agree.
"""

from __future__ import annotations

import math
from enum import StrEnum

import msgspec

from feedback.records.summary import Digest, MeanValue
from feedback.training.baseline import FEWEST_STEPS
from feedback.training.belt_speeds import like_speeds
from shared.change import OLD_FREEDOM, Error, half_width, least_change
from shared.flow import Side
from shared.own_values import OLD_OVERLAP
from shared.statistics import Z95
from shared.targets import Goal


class Since(StrEnum):
    """Where the value comes from that a mean is compared with."""

    BASELINE = "baseline"
    FIRST_CUED = "first_cued"
    """The first session's steps with cues."""
    FIRST_UNCUED = "first_uncued"


class Reference(msgspec.Struct, frozen=True, kw_only=True):
    """What is compared with."""

    value: float
    error: Error | None
    """None where it is not known how surely."""
    since: Since = Since.BASELINE

    @property
    def half_width(self) -> float | None:
        """Half width of the 90 % interval of the value."""
        return half_width(self.error)


class ComparedMean(msgspec.Struct, frozen=True, kw_only=True):
    """A mean against what it is compared with."""

    amount: float
    noise: float | None
    """Smallest change that counts; None: it cannot be told."""

    @property
    def real(self) -> bool:
        """Whether it is more than noise."""
        return self.noise is not None and abs(self.amount) > self.noise


def own_value(digest: Digest, measure: str, side: Side | None, unit: str) -> Reference | None:
    """The runner's own value: in the baseline, else as the prescription has it; None for neither.

    A baseline of another day says nothing about the goals that were made from one, and one at
    another belt speed nothing about this session.
    """
    goal, own = digest.goal_of(measure, side, unit), digest.own
    if not at_baseline_speed(digest):
        own = None
    if goal is not None and not _like(digest, digest.baseline_kmh):
        goal = None
    if own is not None and (goal is None or digest.baseline_utc in ("", own.taken_utc)):
        found = own.find(measure, side, unit)
        if found is not None:
            return Reference(value=found.mean, error=found.error)
    return None if goal is None else Reference(value=goal.own, error=_error(goal))


def at_baseline_speed(digest: Digest) -> bool:
    """Whether the session was run at a speed like that of its baseline, where it has one."""
    return digest.own is None or _like(digest, digest.own.belt_speed_kmh)


def _like(digest: Digest, belt_speed_kmh: float | None) -> bool:
    """Whether it is like the session's; what is not known is no reason against it."""
    if belt_speed_kmh is None or digest.belt_speed_kmh is None:
        return True
    return like_speeds(digest.belt_speed_kmh, belt_speed_kmh)


def change_of(mean: MeanValue, reference: Reference, scatter: float = 0.0) -> ComparedMean:
    """The mean against the reference; no change under ``scatter`` counts."""
    noise = None
    if mean.error is not None and reference.error is not None:
        noise = max(least_change(mean.error, reference.error), scatter)
    elif scatter:
        noise = scatter
    return ComparedMean(amount=mean.mean - reference.value, noise=noise)


def _error(goal: Goal) -> Error:
    """From the least change, which is all that a prescription holds.

    Older versions thought it too small for means over several steps.
    """
    overlap = OLD_OVERLAP.get(goal.targets[-1].measure, 1)
    sem = goal.least_change / (Z95 * math.sqrt(2.0))
    return Error(max(sem, goal.own_sd * math.sqrt(overlap / FEWEST_STEPS)), OLD_FREEDOM)
