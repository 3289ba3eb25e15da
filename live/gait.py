"""Foot contact and toe-off: their phases in the mean stride, and the events as they pass."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from live.stride import TWO_PI, MeanStride, StrideModel
from shared.clock_units import NS_PER_S
from shared.landmarks import Landmark as Lm
from shared.records import EventKind, FloatArray, GaitEvent, Side, View

GRID: Final = 360
PHASES: Final = np.arange(GRID) * TWO_PI / GRID
DECIDE_AFTER_S: Final = 0.045
"""An event is told this long after it, so that at least one later frame has confirmed it."""
REACH_TO_CONTACT_S: Final = 0.048
"""Ankle furthest forward to contact; 42 to 56 ms in rendered running."""
ANKLE: Final = {Side.LEFT: Lm.LEFT_ANKLE, Side.RIGHT: Lm.RIGHT_ANKLE}
TOE: Final = {Side.LEFT: Lm.LEFT_FOOT_INDEX, Side.RIGHT: Lm.RIGHT_FOOT_INDEX}
HEEL: Final = {Side.LEFT: Lm.LEFT_HEEL, Side.RIGHT: Lm.RIGHT_HEEL}


@dataclass(slots=True)
class EventPhases:
    """Where in the mean stride each event lies, rad in [0, 2 pi)."""

    contact: dict[Side, float]
    toe_off: dict[Side, float]


def peak(curve: FloatArray) -> float:
    """Phase (rad) of the highest value of a periodic curve sampled at PHASES, interpolated."""
    top = int(np.argmax(curve))
    before, here, after = curve[top - 1], curve[top], curve[(top + 1) % GRID]
    bend = before - 2.0 * here + after
    offset = 0.0 if bend == 0 else 0.5 * (before - after) / bend
    return float((top + offset) * TWO_PI / GRID) % TWO_PI


def event_phases(mean: MeanStride, view: View, forward: float) -> EventPhases:
    """Find the events of both feet in the mean stride.

    ``forward`` is +1 when the runner faces right in the picture, -1 when left (side view).
    """
    curves = mean.at(PHASES)
    root = mean.root_at(PHASES)
    contact: dict[Side, float] = {}
    toe_off: dict[Side, float] = {}
    for side in Side:
        if view is View.SIDE:
            ahead = forward * (curves[:, ANKLE[side], 0] + root[:, 0])
            contact[side] = (peak(ahead) + TWO_PI * mean.rate_hz * REACH_TO_CONTACT_S) % TWO_PI
            toe_off[side] = peak(-forward * (curves[:, TOE[side], 0] + root[:, 0]))
        else:
            foot = (curves[:, ANKLE[side], 1] + curves[:, HEEL[side], 1]) / 2.0 + root[:, 1]
            contact[side], toe_off[side] = _low_plateau(foot)
    return EventPhases(contact=contact, toe_off=toe_off)


def _low_plateau(height_down: FloatArray) -> tuple[float, float]:
    """Phases between which a foot (picture y, down) stays near its lowest."""
    low = float(height_down.max())
    span = low - float(height_down.min())
    near = height_down > low - 0.12 * span
    centre = int(np.argmax(height_down))
    start = centre
    while near[(start - 1) % GRID] and centre - start < GRID // 2:
        start -= 1
    end = centre
    while near[(end + 1) % GRID] and end - centre < GRID // 2:
        end += 1
    return (start * TWO_PI / GRID) % TWO_PI, (end * TWO_PI / GRID) % TWO_PI


@dataclass(slots=True)
class EventTracker:
    """Tells each event once, as the tracked phase passes it."""

    last_ns: dict[tuple[EventKind, Side], int] = field(default_factory=dict)

    def reset(self) -> None:
        """Forget what was told."""
        self.last_ns.clear()

    def pass_by(self, model: StrideModel, phases: EventPhases, quality: float) -> list[GaitEvent]:
        """Events that lie at least DECIDE_AFTER_S before the newest frame and were not told."""
        if model.mean is None or len(model.samples) < 3:
            return []
        newest = model.samples[-1]
        rate = max(float(model.state[1]), 1.0)
        limit = float(model.state[0]) - rate * DECIDE_AFTER_S
        stride_ns = int(TWO_PI / rate * NS_PER_S)
        due: list[tuple[float, EventKind, Side]] = []
        for kind, table in (
            (EventKind.CONTACT, phases.contact),
            (EventKind.TOE_OFF, phases.toe_off),
        ):
            for side, phase in table.items():
                target = phase + TWO_PI * np.floor((limit - phase) / TWO_PI)
                if limit - target < 0.75 * np.pi:
                    due.append((float(target), kind, side))
        events: list[GaitEvent] = []
        for target, kind, side in sorted(due):
            told = self.last_ns.get((kind, side))
            if told is not None and newest.captured_ns - told < stride_ns // 2:
                continue
            model.smooth_back(12)
            at_ns = _time_of_phase(model, target)
            if at_ns is None or (told is not None and at_ns - told < stride_ns // 2):
                continue
            self.last_ns[(kind, side)] = at_ns
            events.append(
                GaitEvent(
                    kind=kind,
                    side=side,
                    at_ns=at_ns,
                    captured_ns=newest.captured_ns,
                    quality=quality,
                    uncertainty_ms=20.0,
                )
            )
        return sorted(events, key=lambda event: event.at_ns)


def _time_of_phase(model: StrideModel, target: float) -> int | None:
    """Time at which the smoothed phase passed ``target``, interpolated between frames."""
    later = model.samples[-1]
    for earlier in list(model.samples)[-2::-1]:
        if earlier.theta <= target <= later.theta and later.theta > earlier.theta:
            part = (target - earlier.theta) / (later.theta - earlier.theta)
            return earlier.captured_ns + int(part * (later.captured_ns - earlier.captured_ns))
        if later.theta - target > TWO_PI:
            return None
        later = earlier
    return None
