"""What a session's snapshot says of its target in focus and of the newest values (pure)."""

from __future__ import annotations

from collections.abc import Iterable

from feedback.cueing.cues import OUT, words_of
from feedback.cueing.target_tracker import TargetTracker
from feedback.training.course import Course
from shared.catalogue import CATALOGUE
from shared.flow import BandState, CueKind, Measure, View
from shared.messages import Briefing, Focus, Own, Reading
from shared.own_values import Baseline
from shared.targets import Athlete


def focus_shown(lane: TargetTracker, blind: bool, beat_heard: bool) -> Focus:
    """The lane's target with its judged value; without a value while ``blind``."""
    target = lane.target
    value, state = (None, BandState.UNKNOWN) if blind else lane.verdict
    if state in OUT:
        words = words_of(CueKind.OUT_OF_BAND, state, target, beat_heard)
    else:
        words = lane.planner.line_shown(state)
    return Focus(
        measure=target.measure,
        side=target.side,
        unit=target.unit,
        low=target.low,
        high=target.high,
        value=value,
        state=state,
        words=words,
    )


def readings_shown(measures: Iterable[Measure], now_ns: int) -> tuple[Reading, ...]:
    """The measures with their age, in the catalogue's order."""
    order = list(CATALOGUE)
    newest = sorted(measures, key=lambda m: (order.index(m.name), str(m.side or "")))
    return tuple(
        Reading(
            name=measure.name,
            side=measure.side,
            value=measure.value,
            unit=measure.unit,
            uncertainty=measure.uncertainty,
            quality=measure.quality,
            steps=measure.steps,
            age_ms=max(0, now_ns - measure.at_ns) / 1e6,
        )
        for measure in newest
    )


def briefing_of(
    run: str, athlete: Athlete, view: View, course: Course | None, baseline: Baseline | None
) -> Briefing:
    """What holds for the whole session; ``run`` names it."""
    own = () if baseline is None else baseline.measures
    return Briefing(
        run=run,
        code_name=athlete.code_name,
        view=view,
        belt_speed_kmh=athlete.belt_speed_kmh,
        own=tuple(
            Own(
                name=one.name,
                side=one.side,
                unit=one.unit,
                mean=one.mean,
                sd=one.sd,
                least_change=one.least_of_a_value,
            )
            for one in own
        ),
        blocks=() if course is None else course.planned(),
        pain_stop_over=athlete.limits.pain_stop_over,
    )
