"""A runner's own values without cues, as they are kept, and how surely they are known (pure)."""

from __future__ import annotations

import math
from typing import Annotated, Final

import msgspec
from msgspec import Meta

from shared.change import OLD_FREEDOM, Error, least_change
from shared.flow import Side, View
from shared.identity import AthleteId

OLD_OVERLAP: Final = {"cadence": 8, "step_asymmetry": 40}
"""Steps that a value of these is the mean of; baselines of older versions did not allow for it."""


class OwnMeasure(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One measure at baseline; ``side`` None takes the steps of both sides together."""

    name: str
    side: Side | None
    unit: str
    mean: float
    sd: float
    """Of the single values, as they are given by step."""
    values: int
    sem: float
    """Standard error of the mean; see :mod:`shared.change`."""
    least_change: float
    """Smallest difference between two such means that can be told from noise."""
    uncertainty: float
    """Half width of the 90 % interval that the live measure states for a value, on average."""
    freedom: float | None = None
    """Degrees of freedom of ``sem``; None in files of older versions."""

    @property
    def error(self) -> Error:
        """How surely the mean is known."""
        if self.freedom is not None:
            return Error(self.sem, self.freedom)
        overlap = OLD_OVERLAP.get(self.name, 1)
        sem = max(self.sem, self.sd * math.sqrt(overlap / self.values)) if self.values else self.sem
        return Error(sem, OLD_FREEDOM)

    @property
    def least_of_a_value(self) -> float:
        """Smallest difference of one live value from the mean that is more than chance."""
        error = self.error
        return least_change(Error(self.sd, error.freedom), error)


class SideDifference(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Right less left of one measure."""

    name: str
    unit: str
    difference: float
    least: float
    """Smallest that is told: see :func:`feedback.training.side_difference.least_between_sides`."""

    @property
    def told(self) -> bool:
        """Whether the difference is more than noise and the measure's own error."""
        return abs(self.difference) > self.least


class Baseline(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """All that was found in one baseline; it holds for its belt speed and its view only."""

    format: Annotated[int, Meta(ge=1, le=1)] = 1
    code_name: str
    athlete_id: AthleteId = ""
    """Empty in files of older versions."""
    height_cm: float
    view: View
    belt_speed_kmh: float
    taken_utc: str
    source: str
    """Where the pictures came from, in plain words."""
    steps: int
    measures: tuple[OwnMeasure, ...]
    differences: tuple[SideDifference, ...]

    def find(self, name: str, side: Side | None, unit: str) -> OwnMeasure | None:
        """The measure in that unit; None when the baseline does not hold it."""
        for own in self.measures:
            if (own.name, own.side, own.unit) == (name, side, unit):
                return own
        return None
