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

from feedback.records.comparing import FIRST_SESSION, ComparedMean, Reference, change_of, own_value
from feedback.records.store import SessionMean
from feedback.records.summary import MeanValue, both
from feedback.training.counting import SessionPart
from shared.catalogue import CATALOGUE
from shared.flow import Side
from shared.own_values import Baseline
from shared.statistics import Z95
from shared.targets import Goal, SessionKind

SPEED_WITHIN_KMH: Final = 0.25
"""Sessions at a belt speed further off are not compared (cadence changes by 3 to 6 steps/min with
1 km/h: common range, from memory)."""
FEWEST_SESSIONS: Final = 4
MEDIAN_TO_SD: Final = 1.4826
"""From the median of absolute values to the SD of a normal distribution."""
FACTORS: Final = {4: 3.63, 5: 2.77, 6: 2.93, 7: 2.57, 8: 2.65, 9: 2.45}
"""By the number of sessions; up and down, since the median of an even number is another thing."""
FACTOR_FALLS: Final = 4.8
"""From ten sessions on the factor lies by this, over their number, above that of many."""


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


def trends(
    means: Sequence[SessionMean],
    goals: Sequence[Goal],
    own: Baseline | None = None,
    baseline_utc: str = "",
) -> tuple[Trend, ...]:
    """Every measure and side, those of the goals first; ``means`` come oldest first.

    ``own`` and ``baseline_utc`` as in :func:`feedback.records.comparing.own_value`.
    """
    found: dict[tuple[str, Side | None, str], dict[str, Level]] = {}
    for one in means:
        key = (one.mean.measure, one.mean.side, one.mean.unit)
        levels = found.setdefault(key, {})
        level = levels.get(one.uid) or Level(
            uid=one.uid, started_utc=one.started_utc, kind=one.kind, number=one.number
        )
        field = {SessionPart.CUED: "cued", SessionPart.UNCUED: "uncued"}.get(one.mean.part)
        if field is not None:
            levels[one.uid] = msgspec.structs.replace(level, **{field: one.mean})
    for goal in goals:
        target = goal.targets[-1]
        sides = [found.get((target.measure, side, target.unit)) for side in Side]
        if target.side is None and sides[0] and sides[1]:
            found[target.measure, None, target.unit] = _together(sides[0], sides[1])
    aimed = {(target.measure, target.unit) for goal in goals for target in goal.targets}
    ordered = sorted(found.items(), key=lambda item: _place(item[0], aimed))
    return tuple(
        _trend(key, tuple(levels.values()), own_value(own, baseline_utc, goals, *key))
        for key, levels in ordered
    )


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


def _joined(left: MeanValue | None, right: MeanValue | None) -> MeanValue | None:
    return None if left is None or right is None else both(left, right)


def _trend(
    key: tuple[str, Side | None, str], levels: tuple[Level, ...], reference: Reference | None
) -> Trend:
    measure, side, unit = key
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
    )


def _first(levels: Sequence[Level], part: SessionPart) -> Reference | None:
    """The first session with such steps: those with cues are no measure for those without."""
    which = "without cues" if part is SessionPart.UNCUED else "with cues"
    for level in levels:
        mean = level.uncued if part is SessionPart.UNCUED else level.cued
        if mean is not None:
            words = f"{FIRST_SESSION}'s steps {which}"
            return Reference(value=mean.mean, error=mean.error, words=words)
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
