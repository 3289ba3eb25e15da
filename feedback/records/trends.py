"""What changed from session to session, and what of it is more than noise (pure).

The smallest change that counts is 1.96 * sqrt(2) * SEM (Weir 2005, J Strength Cond Res 19:231; from
memory). The SEM is the larger of two: that of the two means from their own steps, and, from four
sessions on, the scatter from one session to the next, which the set-up of the camera adds to. The
scatter is taken from the median of the steps between sessions, so that learning does not pass for
noise when it comes at once; where it comes slowly the noise is thought too large, never too small.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from statistics import median
from typing import Final

import msgspec

from feedback.records.digest import Mean, Part, both
from feedback.records.store import SessionMean
from shared.catalogue import CATALOGUE
from shared.records import Side
from shared.statistics import Z95
from shared.targets import Goal, SessionKind

SPEED_WITHIN_KMH: Final = 0.25
"""Sessions at a belt speed further off are not compared (cadence changes by 3 to 6 steps/min with
1 km/h: common range, from memory)."""
FEWEST_SESSIONS: Final = 4
MEDIAN_TO_SD: Final = 1.4826
"""From the median of absolute values to the SD of a normal distribution."""


class Level(msgspec.Struct, frozen=True, kw_only=True):
    """One measure in one session."""

    uid: str
    started_utc: str
    kind: SessionKind | None
    number: int | None
    cued: Mean | None = None
    uncued: Mean | None = None


class Reference(msgspec.Struct, frozen=True, kw_only=True):
    """What is compared with."""

    value: float
    sem: float | None
    words: str
    """Where it comes from: ``baseline`` or ``first session``."""


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """The newest value against the reference.

    Steps without cues, where there are any: what is kept without help counts.
    """

    part: Part
    newest: Mean
    change: float
    noise: float | None
    """Smallest change that counts; None: it cannot be told."""
    between: bool
    """Whether the scatter between sessions is in it."""

    @property
    def real(self) -> bool:
        """Whether the change is more than noise."""
        return self.noise is not None and abs(self.change) > self.noise


class Trend(msgspec.Struct, frozen=True, kw_only=True):
    """One measure over all sessions that can be compared."""

    measure: str
    side: Side | None
    unit: str
    levels: tuple[Level, ...]
    reference: Reference | None
    verdict: Verdict | None
    """None with nothing to compare."""


def trends(means: Sequence[SessionMean], goals: Sequence[Goal]) -> tuple[Trend, ...]:
    """Every measure and side, those of the goals first; ``means`` come oldest first."""
    found: dict[tuple[str, Side | None, str], dict[str, Level]] = {}
    for one in means:
        key = (one.mean.measure, one.mean.side, one.mean.unit)
        levels = found.setdefault(key, {})
        level = levels.get(one.uid) or Level(
            uid=one.uid, started_utc=one.started_utc, kind=one.kind, number=one.number
        )
        field = {Part.CUED: "cued", Part.UNCUED: "uncued"}.get(one.mean.part)
        if field is not None:
            levels[one.uid] = msgspec.structs.replace(level, **{field: one.mean})
    for goal in goals:
        target = goal.targets[-1]
        sides = [found.get((target.measure, side, target.unit)) for side in Side]
        if target.side is None and sides[0] and sides[1]:
            found[target.measure, None, target.unit] = _together(sides[0], sides[1])
    aimed = {(target.measure, target.unit) for goal in goals for target in goal.targets}
    ordered = sorted(found.items(), key=lambda item: _place(item[0], aimed))
    return tuple(_trend(key, tuple(levels.values()), goals) for key, levels in ordered)


def _place(
    key: tuple[str, Side | None, str], aimed: set[tuple[str, str]]
) -> tuple[bool, bool, int, str]:
    """What is aimed at first, both sides before single ones; else as in the catalogue."""
    measure, side, unit = key
    return (
        (measure, unit) not in aimed,
        side is not None,
        list(CATALOGUE).index(measure),
        side or "",
    )


def _together(left: dict[str, Level], right: dict[str, Level]) -> dict[str, Level]:
    """Both sides taken together, in the sessions that have both."""
    joined = {}
    for uid, one in left.items():
        other = right.get(uid)
        if other is not None:
            joined[uid] = msgspec.structs.replace(
                one, cued=_joined(one.cued, other.cued), uncued=_joined(one.uncued, other.uncued)
            )
    return joined


def _joined(left: Mean | None, right: Mean | None) -> Mean | None:
    return None if left is None or right is None else both(left, right)


def _trend(
    key: tuple[str, Side | None, str], levels: tuple[Level, ...], goals: Sequence[Goal]
) -> Trend:
    measure, side, unit = key
    newest = levels[-1].uncued or levels[-1].cued
    reference = _baseline(key, goals)
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
    )


def _baseline(key: tuple[str, Side | None, str], goals: Sequence[Goal]) -> Reference | None:
    for goal in goals:
        target = goal.targets[-1]
        if (target.measure, target.side, target.unit) == key:
            sem = goal.least_change / (Z95 * math.sqrt(2.0))
            return Reference(value=goal.own, sem=sem, words="baseline")
    return None


def _first(levels: Sequence[Level], part: Part) -> Reference | None:
    """The first session with such steps: those with cues are no measure for those without."""
    for level in levels:
        mean = level.uncued if part is Part.UNCUED else level.cued
        if mean is not None:
            return Reference(value=mean.mean, sem=mean.sem, words="first session")
    return None


def _verdict(levels: Sequence[Level], newest: Mean, reference: Reference) -> Verdict:
    own = None
    if newest.sem is not None and reference.sem is not None:
        own = math.hypot(newest.sem, reference.sem) / math.sqrt(2.0)
    scatter = between_sessions(levels)
    larger = [sem for sem in (own, scatter) if sem is not None]
    return Verdict(
        part=newest.part,
        newest=newest,
        change=newest.mean - reference.value,
        noise=Z95 * math.sqrt(2.0) * max(larger) if larger else None,
        between=scatter is not None,
    )


def between_sessions(levels: Sequence[Level]) -> float | None:
    """SD of one session's mean around what is lasting, in the measure's unit; None: too few.

    From the part of the sessions that most of them have.
    """
    uncued = [level.uncued.mean for level in levels if level.uncued is not None]
    cued = [level.cued.mean for level in levels if level.cued is not None]
    values = uncued if len(uncued) >= min(len(cued), FEWEST_SESSIONS) else cued
    if len(values) < FEWEST_SESSIONS:
        return None
    steps = [abs(b - a) for a, b in itertools.pairwise(values)]
    return MEDIAN_TO_SD * median(steps) / math.sqrt(2.0)
