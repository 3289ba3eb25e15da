"""Short ways to make baselines, drills and prescriptions for the tests."""

from __future__ import annotations

import random
from typing import Any

from feedback.athlete_files.drills import read_drill, read_plan
from feedback.athlete_files.prescriptions import prescribe
from feedback.storage.folders import DataFolder, find
from feedback.training.baseline import side_differences
from feedback.training.goals import goals_for
from shared.flow import EventKind, GaitEvent, Measure, Side, Update, View
from shared.own_values import Baseline, OwnMeasure
from shared.targets import (
    Aim,
    Athlete,
    Block,
    BlockKind,
    CueStyle,
    Drill,
    Goal,
    Hold,
    Limits,
    Plan,
    PlanSession,
    Prescription,
)
from tests.feedback.making import MS, STEP_NS, cadence_target

UTC = "2026-03-02T09:00:00.000000+00:00"
NO_LIMITS = Limits()


def own(name: str, side: Side | None, unit: str, mean: float, sd: float) -> OwnMeasure:
    """A measure of a baseline over 60 steps."""
    sem = sd / 60**0.5
    return OwnMeasure(
        name=name,
        side=side,
        unit=unit,
        mean=mean,
        sd=sd,
        values=60,
        sem=sem,
        least_change=1.96 * 2**0.5 * sem,
        uncertainty=1.0,
    )


def baseline(*measures: OwnMeasure, view: View = View.SIDE, **changes: Any) -> Baseline:
    """160 steps/min and the foot 27 cm ahead of the hips, unless told otherwise."""
    if not measures:
        measures = (
            own("cadence", None, "steps/min", 160.0, 1.2),
            own("strike_ahead", None, "cm", 27.0, 1.5),
            own("strike_ahead", Side.LEFT, "cm", 26.0, 1.4),
            own("strike_ahead", Side.RIGHT, "cm", 28.0, 1.6),
        )
    fields: dict[str, Any] = {
        "code_name": "Heron",
        "height_cm": 166.0,
        "view": view,
        "belt_speed_kmh": 10.1,
        "taken_utc": UTC,
        "source": "a test",
        "steps": 60,
        "measures": measures,
        "differences": side_differences(measures),
        **changes,
    }
    return Baseline(**fields)


def cadence_aim(**changes: Any) -> Aim:
    """+5 %, to a beat."""
    fields: dict[str, Any] = {
        "name": "steps",
        "measure": "cadence",
        "unit": "steps/min",
        "change_percent": 5.0,
        "cues": (CueStyle.BEAT, CueStyle.OUT_OF_BAND, CueStyle.BACK_IN_BAND, CueStyle.WORDS),
    }
    return Aim(**{**fields, **changes})


def strike_aim(**changes: Any) -> Aim:
    """15 % less, only an upper edge."""
    fields: dict[str, Any] = {
        "name": "landing",
        "measure": "strike_ahead",
        "unit": "cm",
        "change_percent": -15.0,
        "hold": Hold.UNDER,
    }
    return Aim(**{**fields, **changes})


def block(kind: str, minutes: float | None = None, **changes: Any) -> Block:
    """A block of so many minutes."""
    return Block(kind=BlockKind(kind), minutes=minutes, **changes)


def drill(*aims: Aim, blocks: tuple[Block, ...] = (), **changes: Any) -> Drill:
    """Warm-up, cued, uncued and cool-down, of 1, 4, 2 and 1 minutes."""
    made = blocks or (
        block("warm_up", 1.0),
        block("cued", 4.0),
        block("uncued", 2.0),
        block("cool_down", 1.0),
    )
    fields: dict[str, Any] = {"title": "A drill", "view": View.SIDE, **changes}
    return Drill(aims=aims or (cadence_aim(),), blocks=made, **fields)


def plan(*parts: tuple[float, ...]) -> Plan:
    """Practice sessions of these parts, a day apart."""
    return Plan(title="A plan", sessions=tuple(PlanSession(parts_min=one) for one in parts))


def athlete(**changes: Any) -> Athlete:
    """Heron, without a profile."""
    fields: dict[str, Any] = {
        "code_name": "Heron",
        "height_cm": 166.0,
        "view": View.SIDE,
        "targets": (cadence_target(),),
        "belt_speed_kmh": 10.1,
    }
    return Athlete(**{**fields, **changes})


def goals(a_drill: Drill | None = None, **changes: Any) -> tuple[Goal, ...]:
    """A drill's goals for the runner of :func:`baseline`."""
    return goals_for(baseline(**changes), a_drill or drill(), NO_LIMITS)


def prescription(
    a_drill: Drill | None = None, a_plan: Plan | None = None, limits: Limits = NO_LIMITS
) -> Prescription:
    """A drill, with a plan or without, for the runner of :func:`baseline`."""
    made = a_drill or drill()
    base = baseline()
    found = goals_for(base, made, limits)
    return prescribe(athlete(limits=limits), base, made, a_plan, found, UTC)


def bundled_drill(name: str) -> Drill:
    """A drill that comes with the program."""
    return read_drill(find(DataFolder.DRILLS, name))


def bundled_plan(name: str) -> Plan:
    """A plan that comes with the program."""
    return read_plan(find(DataFolder.PLANS, name))


def steps(
    count: int,
    spm: float = 160.0,
    spread: float = 0.01,
    seed: int = 1,
    first: int = 1,
    doubted: tuple[int, ...] = (),
    quality: float = 0.9,
) -> list[Update]:
    """A runner's steps, one update each: cadence, and the foot ahead by alternating side."""
    chance = random.Random(seed)
    updates = []
    at_ns = (first - 1) * STEP_NS
    for number in range(first, first + count):
        at_ns += round(60e9 / spm)
        side = Side.LEFT if number % 2 else Side.RIGHT
        fields: dict[str, Any] = {
            "uncertainty": 1.0,
            "quality": quality,
            "step_number": number,
            "at_ns": at_ns,
            "captured_ns": at_ns + 80 * MS,
        }
        ahead = 26.0 if side is Side.LEFT else 28.0
        measures = (
            Measure(
                name="cadence",
                side=None,
                value=spm * (1 + spread * chance.gauss(0, 1)),
                unit="steps/min",
                steps=8,
                **fields,
            ),
            Measure(
                name="strike_ahead",
                side=side,
                value=ahead + chance.gauss(0, 1.0),
                unit="cm",
                steps=1,
                percent_leg=(ahead + chance.gauss(0, 1.0)) / 0.9,
                **fields,
            ),
        )
        contact = GaitEvent(
            kind=EventKind.CONTACT,
            side=side,
            at_ns=at_ns,
            captured_ns=at_ns + 80 * MS,
            quality=quality,
            uncertainty_ms=10.0,
        )
        updates.append(
            Update(
                captured_ns=at_ns + 80 * MS,
                index=number,
                events=(contact,),
                measures=measures,
                doubts=("quality_low",) if number in doubted else (),
                quality=quality,
            )
        )
    return updates
