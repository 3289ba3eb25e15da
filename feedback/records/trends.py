"""What changed from session to session, and what of it is more than noise (pure).

The smallest change that counts is the larger of two: what the steps of the two means come to
(:mod:`shared.change`), and, from four sessions on, what sessions differ by among themselves,
which the set-up of the camera adds to. That scatter is taken from the median of the steps between
sessions, so that learning does not pass for noise when it comes at once; where it comes slowly the
noise is thought too large, never too small.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

import msgspec

from feedback.records.comparing import ComparedMean, Reference, Since, change_of, own_value
from feedback.records.summary import Digest, MeanValue
from feedback.training.counting import SessionPart
from shared.catalogue import CATALOGUE
from shared.flow import Side, View
from shared.statistics import Z95
from shared.targets import SessionKind, Target

FEWEST_SESSIONS: Final = 4
MEDIAN_TO_SD: Final = 1.4826
"""From the median of absolute values to the SD of a normal distribution."""
FACTORS: Final = {4: 3.63, 5: 2.77, 6: 2.93, 7: 2.57, 8: 2.65, 9: 2.45}
"""By the number of sessions; up and down, since the median of an even number is another thing."""
FACTOR_FALLS: Final = 4.8
"""From ten sessions on the factor lies by this, over their number, above that of many."""
Key = tuple[str, Side | None, str]
"""Measure, side and unit."""


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """One measure in one session."""

    uid: str
    started_utc: str
    kind: SessionKind | None
    number: int | None
    cued: MeanValue | None = None
    uncued: MeanValue | None = None


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """The newest value against the reference.

    Steps without cues, where there are any: what is kept without help counts.
    """

    part: SessionPart
    newest: MeanValue
    compared: ComparedMean
    between: bool
    """Whether the scatter between sessions is in the noise."""

    @property
    def change(self) -> float:
        """Newest less reference, in the measure's unit."""
        return self.compared.amount

    @property
    def noise(self) -> float | None:
        """Smallest change that counts; None: it cannot be told."""
        return self.compared.noise

    @property
    def real(self) -> bool:
        """Whether the change is more than noise."""
        return self.compared.real


class Trend(msgspec.Struct, frozen=True, kw_only=True):
    """One measure over all sessions that can be compared."""

    measure: str
    side: Side | None
    unit: str
    levels: tuple[Level, ...]
    reference: Reference | None
    verdict: Verdict | None
    """None with nothing to compare."""
    band: Target | None = None
    """Where the prescription leads to: the side's own goal, or that for both."""


def comparable(digests: Sequence[Digest], view: View, belt_speed_kmh: float) -> tuple[Digest, ...]:
    """Those sessions of one athlete that count, in one view at like speeds, with a mean.

    Of a session at several speeds what was measured at this one.
    """
    at_speed = (one.at_speed(belt_speed_kmh) for one in digests if one.counts and one.view is view)
    return tuple(
        one
        for one in at_speed
        if one is not None and any(mean.part is not SessionPart.ALL for mean in one.means)
    )


def trends(digests: Sequence[Digest]) -> tuple[Trend, ...]:
    """Every measure and side over sessions that can be compared, the oldest first.

    The newest one's goals come first, and it says what the baseline is.
    """
    if not digests:
        return ()
    newest = digests[-1]
    keys = {(one.measure, one.side, one.unit) for digest in digests for one in digest.means}
    last = [goal.targets[-1] for goal in newest.goals]
    keys |= {(target.measure, None, target.unit) for target in last if target.side is None}
    aimed = {(target.measure, target.unit) for goal in newest.goals for target in goal.targets}
    order = {name: number for number, name in enumerate(CATALOGUE)}

    def place(key: Key) -> tuple[bool, bool, int, str]:
        """What is aimed at first, both sides before single ones; else as in the catalogue."""
        measure, side, unit = key
        return (measure, unit) not in aimed, side is not None, order[measure], f"{side or ''}{unit}"

    found = ((key, _levels(digests, key)) for key in sorted(keys, key=place))
    return tuple(_trend(key, levels, newest) for key, levels in found if levels)


def _levels(digests: Sequence[Digest], key: Key) -> tuple[Level, ...]:
    """One measure in each session that has it."""
    measure, side, unit = key
    found = []
    for one in digests:
        cued = one.found(measure, side, SessionPart.CUED, unit)
        uncued = one.found(measure, side, SessionPart.UNCUED, unit)
        if cued is not None or uncued is not None:
            level = Level(
                uid=one.uid,
                started_utc=one.started_utc,
                kind=one.kind,
                number=one.number,
                cued=cued,
                uncued=uncued,
            )
            found.append(level)
    return tuple(found)


def _trend(key: Key, levels: tuple[Level, ...], last: Digest) -> Trend:
    measure, side, unit = key
    reference = own_value(last, *key)
    goal = last.goal_of(*key) or last.goal_of(measure, None, unit)
    newest = levels[-1].uncued or levels[-1].cued
    if reference is None and newest is not None:
        reference = _first(levels[:-1], newest.part)
    verdict = None
    if reference is not None and newest is not None:
        verdict = _verdict(levels, newest, reference)
    return Trend(
        measure=measure,
        side=side,
        unit=unit,
        levels=levels,
        reference=reference,
        verdict=verdict,
        band=None if goal is None else goal.targets[-1],
    )


def _first(levels: Sequence[Level], part: SessionPart) -> Reference | None:
    """The first session with such steps: those with cues are no measure for those without."""
    uncued = part is SessionPart.UNCUED
    since = Since.FIRST_UNCUED if uncued else Since.FIRST_CUED
    for level in levels:
        mean = level.uncued if uncued else level.cued
        if mean is not None:
            return Reference(value=mean.mean, error=mean.error, since=since)
    return None


def _verdict(levels: Sequence[Level], newest: MeanValue, reference: Reference) -> Verdict:
    scatter = between_sessions(levels)
    least = 0.0 if scatter is None else scatter.least_change
    return Verdict(
        part=newest.part,
        newest=newest,
        compared=change_of(newest, reference, least),
        between=scatter is not None,
    )


@dataclass(frozen=True)
class Scatter:
    """How sessions differ while nothing lasting changes."""

    sd: float
    """Of one session's mean around what is lasting, in the measure's unit."""
    sessions: int
    """How many it was seen in."""

    @property
    def least_change(self) -> float:
        """Smallest difference of two sessions that counts.

        From few sessions the scatter itself is known badly, so that more is asked: the factors
        let 5 % pass by chance alone (simulated, 200,000 histories each, of the newest session
        against a baseline; the tests do it again).
        """
        factor = FACTORS.get(self.sessions, Z95 + FACTOR_FALLS / self.sessions)
        return factor * math.sqrt(2.0) * self.sd


def between_sessions(levels: Sequence[Level]) -> Scatter | None:
    """How sessions differ; None: too few to tell.

    From the part of the sessions that most of them have.
    """
    uncued = [level.uncued.mean for level in levels if level.uncued is not None]
    cued = [level.cued.mean for level in levels if level.cued is not None]
    values = uncued if len(uncued) >= min(len(cued), FEWEST_SESSIONS) else cued
    if len(values) < FEWEST_SESSIONS:
        return None
    steps = [abs(b - a) for a, b in itertools.pairwise(values)]
    return Scatter(MEDIAN_TO_SD * median(steps) / math.sqrt(2.0), len(values))
