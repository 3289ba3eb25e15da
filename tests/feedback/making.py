"""Short ways to make the values that the feedback tests need."""

from __future__ import annotations

from typing import Any

from shared.flow import BandState, Judgement, Measure, Side, Update, View
from shared.targets import Athlete, CueStyle, Target

S = 1_000_000_000
MS = 1_000_000
STEP_NS = 375 * MS
"""A step at 160 steps/min."""


def measure(step: int, value: float, **changes: Any) -> Measure:
    """A step's ``strike_ahead`` of alternating side, in cm, known 80 ms after the contact."""
    at_ns = step * STEP_NS
    fields: dict[str, Any] = {
        "name": "strike_ahead",
        "side": Side.LEFT if step % 2 == 0 else Side.RIGHT,
        "value": value,
        "unit": "cm",
        "uncertainty": 1.0,
        "quality": 0.9,
        "steps": 1,
        "step_number": step,
        "at_ns": at_ns,
        "captured_ns": at_ns + 80 * MS,
    }
    return Measure(**{**fields, **changes})


def cadence(step: int, value: float, **changes: Any) -> Measure:
    """Cadence after a step, averaged over 8 steps."""
    fields = {"name": "cadence", "side": None, "unit": "steps/min", "steps": 8, **changes}
    return measure(step, value, **fields)


def judgement(step: int, state: BandState, **changes: Any) -> Judgement:
    """A verdict on ``strike_ahead`` at a step."""
    fields: dict[str, Any] = {
        "measure": "strike_ahead",
        "side": None,
        "state": state,
        "value": 10.0,
        "unit": "cm",
        "error": 0.0,
        "steps": 8,
        "step_number": step,
        "at_ns": step * STEP_NS,
        "captured_ns": step * STEP_NS + 80 * MS,
    }
    return Judgement(**{**fields, **changes})


def update(captured_ns: int, *measures: Measure, doubts: tuple[str, ...] = ()) -> Update:
    """What one frame brought to light."""
    return Update(
        captured_ns=captured_ns,
        index=0,
        events=(),
        measures=measures,
        doubts=doubts,
        quality=0.9,
    )


def strike_target(**changes: Any) -> Target:
    """At most 12 cm, judged over 4 steps, back at 11 cm."""
    fields: dict[str, Any] = {
        "measure": "strike_ahead",
        "unit": "cm",
        "high": 12.0,
        "average_steps": 4,
        "hysteresis": 1.0,
        "cue_gap_steps": 8,
    }
    return Target(**{**fields, **changes})


def cadence_target(**changes: Any) -> Target:
    """163 to 173 steps/min, to a beat of 168."""
    fields: dict[str, Any] = {
        "measure": "cadence",
        "unit": "steps/min",
        "low": 163.0,
        "high": 173.0,
        "beat_spm": 168.0,
        "hysteresis": 1.0,
        "cues": (
            CueStyle.BEAT,
            CueStyle.OUT_OF_BAND,
            CueStyle.BACK_IN_BAND,
            CueStyle.WORDS,
        ),
    }
    return Target(**{**fields, **changes})


def athlete(*targets: Target, view: View = View.SIDE) -> Athlete:
    """A runner with these targets."""
    return Athlete(code_name="Test", height_cm=172.0, targets=targets, view=view)
