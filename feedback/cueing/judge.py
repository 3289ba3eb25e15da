"""Decides from the recent steps whether a target's measure lies inside its band."""

from __future__ import annotations

import math
from collections import deque
from typing import Final

from shared.catalogue import PERCENT_LEG
from shared.flow import BandState, Judgement, Measure
from shared.targets import Target
from shared.usable import usable

FEWEST_STEPS: Final = 4
"""Two strides: one step alone says little (step-to-step variation; common practice, no source)."""
LARGEST_GAP_STEPS: Final = 4
"""One foot lands on every second step, so this lets a single landing of a side go missing."""
LARGEST_GAP_NS: Final = 2_000_000_000
"""Without a usable step for longer than this, what came before says nothing about now."""


def value_in(measure: Measure, unit: str) -> float | None:
    """The measure's value in ``unit``; None when it cannot be given in it."""
    if measure.unit == unit:
        return measure.value
    if unit == PERCENT_LEG:
        return measure.percent_leg
    return None


def is_finite(measure: Measure) -> bool:
    """Whether all its figures are numbers."""
    return all(map(math.isfinite, (measure.value, measure.uncertainty, measure.quality)))


class Judge:
    """Holds the recent steps of one target and its verdict.

    The value judged is the mean of the last ``average_steps`` single steps. A measure that
    arrives averaged already (``steps`` > 1, such as cadence) stands for itself.
    """

    def __init__(self, target: Target) -> None:
        self.target = target
        self._needed = min(target.average_steps, FEWEST_STEPS)
        self._window: deque[float] = deque(maxlen=target.average_steps)
        self._state = BandState.UNKNOWN
        self._last: Measure | None = None
        self._newest: Judgement | None = None

    @property
    def newest(self) -> Judgement | None:
        """The last judgement; None after a reset or when it has grown old."""
        return self._newest

    def aim_at(self, target: Target) -> None:
        """Hold the same measure to another band from the next step on; the steps stay."""
        self.target = target
        self._state = BandState.UNKNOWN
        self._newest = None

    def reset(self) -> None:
        """Forget all steps: the next ones have nothing to do with the ones before."""
        self._window.clear()
        self._state = BandState.UNKNOWN
        self._last = None
        self._newest = None

    def expire(self, at_ns: int) -> bool:
        """Reset when at ``at_ns`` the last usable step is too long ago; True if it did."""
        if self._last is None or at_ns - self._last.at_ns <= LARGEST_GAP_NS:
            return False
        self.reset()
        return True

    def update(self, measure: Measure) -> Judgement | None:
        """Take one measure in; the new verdict, or None when it does not bear on this target.

        Values that are not usable, or not in the target's unit, are passed over.
        """
        if measure.name != self.target.measure:
            return None
        if self.target.side is not None and measure.side is not self.target.side:
            return None
        if self._follows_a_gap(measure):
            self.reset()
        value = value_in(measure, self.target.unit)
        if value is None or not math.isfinite(value) or not usable(measure):
            return None
        if measure.steps > 1 or (self._last is not None and self._last.steps > 1):
            self._window.clear()
        self._last = measure
        self._window.append(value)
        steps = max(measure.steps, len(self._window))
        mean = math.fsum(self._window) / len(self._window)
        if steps >= self._needed:
            self._state = self._placed(mean)
        self._newest = Judgement(
            measure=measure.name,
            side=self.target.side,
            state=self._state,
            value=mean,
            unit=self.target.unit,
            error=self._error(mean),
            steps=steps,
            step_number=measure.step_number,
            at_ns=measure.at_ns,
            captured_ns=measure.captured_ns,
        )
        return self._newest

    def _follows_a_gap(self, measure: Measure) -> bool:
        if self._last is None:
            return False
        steps = measure.step_number - self._last.step_number
        elapsed_ns = measure.at_ns - self._last.at_ns
        return not (0 <= steps <= LARGEST_GAP_STEPS and elapsed_ns <= LARGEST_GAP_NS)

    def _placed(self, value: float) -> BandState:
        """The state of ``value``: left at the band's edge, entered again further in."""
        low, high = self.target.low, self.target.high
        inward_low = self.target.hysteresis if self._state is BandState.BELOW else 0.0
        inward_high = self.target.hysteresis if self._state is BandState.ABOVE else 0.0
        if low is not None and value < low + inward_low:
            return BandState.BELOW
        if high is not None and value > high - inward_high:
            return BandState.ABOVE
        return BandState.INSIDE

    def _error(self, value: float) -> float:
        low, high = self.target.low, self.target.high
        if low is not None and value < low:
            return value - low
        if high is not None and value > high:
            return value - high
        return 0.0
