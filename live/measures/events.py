"""Foot contact and toe-off: their phases in the mean stride, and the events as they pass."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np

from live.measures import contact_signs as contact
from live.measures import step_symmetry
from live.measures.calibration import correction
from live.scene.leg_place import FAR, place_of
from live.stride.fourier import TWO_PI
from live.stride.mean_stride import MeanStride
from live.stride.model import StrideModel
from shared.flow import EventKind, GaitEvent, Side, View
from shared.landmarks import Landmark as Lm
from shared.statistics import Z90
from shared.units import NS_PER_S

DECIDE_AFTER_S: Final = 0.035
"""An event is told this long after it, so that at least one later frame has confirmed it, at 30 a
second. Waiting for 45 ms made no value better (rendered cases), and every cue later."""
STALE_S: Final = 0.1
"""An event that lies further back than that when the stride becomes known is not told any more: a
cue about it would sound in another step. Two frames of a slow camera are within it."""
ANKLE: Final = {Side.LEFT: Lm.LEFT_ANKLE, Side.RIGHT: Lm.RIGHT_ANKLE}
TOE: Final = {Side.LEFT: Lm.LEFT_FOOT_INDEX, Side.RIGHT: Lm.RIGHT_FOOT_INDEX}
FAR_SHARE: Final = 0.75
HEEL: Final = {Side.LEFT: Lm.LEFT_HEEL, Side.RIGHT: Lm.RIGHT_HEEL}


@dataclass(slots=True)
class EventPhases:
    """Where in the mean stride each event lies, rad."""

    contact: dict[Side, float]
    toe_off: dict[Side, float]
    place: dict[Side, str]
    """Which leg each is to the camera: near, far, or across."""


def event_phases(mean: MeanStride, view: View, forward: float, px_per_m: float) -> EventPhases:
    """Find the events of both feet in the mean stride.

    ``forward`` is +1 when the runner faces right in the picture, -1 when left (side view);
    ``px_per_m`` is the scale at the runner.
    """
    contact_at: dict[Side, float] = {}
    by_feet: dict[Side, float] = {}
    stride_s = 1.0 / mean.rate_hz
    rate = TWO_PI / stride_s
    curves = {side: contact.curves_of(mean, view, side, forward, px_per_m) for side in Side}
    for side in Side:
        anchor, signs = contact.contact_signs(curves[side], view)
        weights, apart_s = contact.CONTACT_BLEND[view], contact.CONTACT_APART_S
        contact_at[side] = anchor + rate * contact.blend(signs, weights, stride_s, apart_s)
        if view is View.SIDE:
            by_feet[side] = anchor + rate * contact.blend(signs, contact.FEET_ALONE, stride_s)
    # The signs say when contact is; how far apart the two are, the whole movement says better.
    left, right = curves[Side.LEFT], curves[Side.RIGHT]
    turn = step_symmetry.half_turn(left, right, contact_at[Side.LEFT], by_feet)
    early = 0.5 * (turn - (contact_at[Side.RIGHT] - contact_at[Side.LEFT]) % TWO_PI)
    contact_at[Side.LEFT] -= early
    contact_at[Side.RIGHT] += early
    lasts = {}
    for side in Side:
        anchor, signs = contact.toe_off_signs(curves[side], contact_at[side])
        found = anchor + rate * contact.blend(signs, contact.TOE_OFF_BLEND[view], stride_s)
        lasts[side] = (found - contact_at[side]) % TWO_PI
    place = {side: place_of(view, side, forward) for side in Side}
    stance = _stance(lasts, place)
    toe_off_at = {side: contact_at[side] + stance for side in Side}
    return EventPhases(contact=contact_at, toe_off=toe_off_at, place=place)


def _stance(lasts: dict[Side, float], place: dict[Side, str]) -> float:
    """From contact to toe-off, rad: the same for both feet.

    By foot it is read to 15 ms or so, and runners' two feet differ by less; of the far foot,
    which the near leg hides, the least is believed.
    """
    share = {side: FAR_SHARE if place[side] == FAR else 1.0 for side in lasts}
    return sum(share[side] * last for side, last in lasts.items()) / sum(share.values())


@dataclass(frozen=True, slots=True)
class FootEvent:
    """A :class:`GaitEvent` of the foot that the mean stride calls left or right."""

    kind: EventKind
    side: Side
    at_ns: int
    captured_ns: int
    quality: float
    uncertainty_ms: float

    def told(self, side_sure: bool, least_ms: float = 0.0) -> GaitEvent:
        """What is told of it: without the side where that is not sure.

        ``least_ms``: its time is no surer than this.
        """
        return GaitEvent(
            kind=self.kind,
            side=self.side if side_sure else None,
            at_ns=self.at_ns,
            captured_ns=self.captured_ns,
            quality=self.quality,
            uncertainty_ms=max(least_ms, self.uncertainty_ms),
        )


@dataclass(slots=True)
class EventTracker:
    """Tells each event once, as the tracked phase passes it."""

    last_ns: dict[tuple[EventKind, Side], int] = field(default_factory=dict)

    newest_ns: dict[EventKind, int] = field(default_factory=dict)
    """Of each kind, whatever the side."""

    def reset(self) -> None:
        """Forget which foot was which; a step that was told is not told again all the same."""
        self.last_ns.clear()

    def pass_by(self, model: StrideModel, phases: EventPhases, quality: float) -> list[FootEvent]:
        """Events that lie at least DECIDE_AFTER_S before the newest frame and were not told.

        The first of a kind and side only while it is fresh.
        """
        if model.mean is None or len(model.samples) < 3:
            return []
        newest = model.samples[-1]
        rate = max(model.state.rate, 1.0)
        limit = model.state.theta - rate * DECIDE_AFTER_S
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
        events: list[FootEvent] = []
        for target, kind, side in sorted(due):
            told = self.last_ns.get((kind, side))
            if told is None and limit - target > rate * STALE_S:
                continue
            if told is not None and newest.captured_ns - told < stride_ns // 2:
                continue
            model.smooth_back(12)
            at_ns = time_of_phase(model, target)
            if at_ns is None or (told is not None and at_ns - told < stride_ns // 2):
                continue
            if at_ns - self.newest_ns.get(kind, at_ns - stride_ns) < stride_ns // 5:
                continue
            self.last_ns[(kind, side)] = self.newest_ns[kind] = at_ns
            events.append(
                FootEvent(
                    kind=kind,
                    side=side,
                    at_ns=at_ns,
                    captured_ns=newest.captured_ns,
                    quality=quality,
                    uncertainty_ms=Z90 * correction(kind.value, phases.place[side]).sd,
                )
            )
        return sorted(events, key=lambda event: event.at_ns)


def time_of_phase(model: StrideModel, target: float) -> int | None:
    """Time at which the smoothed phase passed ``target``, interpolated between frames.

    None where it was not followed so long.
    """
    later = model.samples[-1]
    for earlier in list(model.samples)[-2::-1]:
        if earlier.theta <= target <= later.theta and later.theta > earlier.theta:
            part = (target - earlier.theta) / (later.theta - earlier.theta)
            return earlier.captured_ns + int(part * (later.captured_ns - earlier.captured_ns))
        later = earlier
    return None
