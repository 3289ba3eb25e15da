"""Values by step, read from the mean stride and this step's own departure from it."""

from __future__ import annotations

import itertools
from collections import deque
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from live.contact import PHASES
from live.gait import ANKLE, HEEL, TOE, EventPhases
from live.scale import px_per_m_from_height
from live.stride import MeanStride, StrideModel
from shared import catalogue
from shared.clock_units import NS_PER_MS, NS_PER_S
from shared.landmarks import Landmark as Lm
from shared.records import EventKind, FloatArray, GaitEvent, Side, View

CADENCE_STEPS: Final = 8
ASYMMETRY_STRIDES: Final = 20
OWN_STEP_SHARE: Final = 0.5
"""How much of a single step's departure from the mean stride is believed."""
NEAR_S: Final = 0.07
"""Frames this near to an instant speak for it."""
LEG_OF_HEIGHT: Final = 0.530
"""Hip height over stature (Drillis and Contini): leg length where nothing better is known."""
KNEE: Final = {Side.LEFT: Lm.LEFT_KNEE, Side.RIGHT: Lm.RIGHT_KNEE}
HIP: Final = {Side.LEFT: Lm.LEFT_HIP, Side.RIGHT: Lm.RIGHT_HIP}
WRIST: Final = {Side.LEFT: Lm.LEFT_WRIST, Side.RIGHT: Lm.RIGHT_WRIST}


@dataclass(frozen=True, slots=True)
class Setup:
    """What was said before the run."""

    view: View
    height_m: float | None = None
    belt_speed_mps: float | None = None


@dataclass(slots=True)
class Values:
    """One value before it becomes a Measure."""

    name: str
    side: Side | None
    value: float
    unit: str
    uncertainty: float
    at_ns: int
    steps: int = 1


@dataclass(slots=True)
class StepMeasurer:
    """Keeps the contacts so far and turns events into values."""

    setup: Setup
    contacts: deque[GaitEvent] = field(default_factory=lambda: deque(maxlen=64))
    step_number: int = 0

    def reset(self) -> None:
        """Start a new run of steps; the step count goes on."""
        self.contacts.clear()

    def on_event(
        self, event: GaitEvent, model: StrideModel, phases: EventPhases, forward: float
    ) -> list[Values]:
        """Values that become known with ``event``."""
        mean = model.mean
        if mean is None:
            return []
        if event.kind is EventKind.CONTACT:
            self._count(event)
            values = self._times(event)
            if self.setup.view is View.SIDE:
                values += self._side_contact(event, model, mean, phases, forward)
            return values
        return self._stance(event, model, mean, phases, forward)

    # -- times -------------------------------------------------------------------------

    def _count(self, event: GaitEvent) -> None:
        if self.contacts:
            last = self.contacts[-1]
            gap_s = (event.at_ns - last.at_ns) / NS_PER_S
            # Two contacts of one foot in a row, or a long gap: a step was lost in between.
            if last.side is event.side or gap_s > 1.0:
                self.contacts.clear()
        self.contacts.append(event)
        self.step_number += 1

    def _times(self, event: GaitEvent) -> list[Values]:
        contacts = list(self.contacts)
        values: list[Values] = []
        steps = min(CADENCE_STEPS, len(contacts) - 1)
        if steps >= 4:
            # An even number of steps, so that a limp does not sway the mean.
            steps -= steps % 2
            span_s = (contacts[-1].at_ns - contacts[-1 - steps].at_ns) / NS_PER_S
            cadence = 60.0 * steps / span_s
            error = cadence * 0.010 / span_s
            values.append(Values("cadence", None, cadence, "steps/min", error, event.at_ns, steps))
        if len(contacts) >= 2 and self.setup.belt_speed_mps is not None:
            step_s = (contacts[-1].at_ns - contacts[-2].at_ns) / NS_PER_S
            length = 100.0 * self.setup.belt_speed_mps * step_s
            values.append(Values("step_length", event.side, length, "cm", 5.0, event.at_ns))
        if len(contacts) > 2 * ASYMMETRY_STRIDES:
            recent = contacts[-(2 * ASYMMETRY_STRIDES + 1) :]
            times: dict[Side, list[int]] = {side: [] for side in Side}
            for earlier, later in itertools.pairwise(recent):
                times[later.side].append(later.at_ns - earlier.at_ns)
            left, right = (float(np.mean(times[side])) for side in (Side.LEFT, Side.RIGHT))
            index = symmetry_index(left, right)
            values.append(
                Values("step_asymmetry", None, index, "%", 2.0, event.at_ns, 2 * ASYMMETRY_STRIDES)
            )
        return values

    # -- instants ----------------------------------------------------------------------

    def _lengths(self, px: float, mean: MeanStride, model: StrideModel) -> tuple[float, str]:
        """A picture length in cm where the scale is known, else in % of leg length."""
        scale = self._px_per_m(mean, model)
        if scale is None:
            return 100.0 * px / model.leg_px, catalogue.PERCENT_LEG
        return 100.0 * px / scale, catalogue.CM

    def _px_per_m(self, mean: MeanStride, model: StrideModel) -> float | None:
        if self.setup.height_m is None:
            return None
        return px_per_m_from_height(mean, mean.at(PHASES), model.leg_px, self.setup.height_m)

    def _side_contact(
        self,
        event: GaitEvent,
        model: StrideModel,
        mean: MeanStride,
        phases: EventPhases,
        forward: float,
    ) -> list[Values]:
        side = event.side
        body = body_at(model, mean, phases.contact[side], event.at_ns)
        ahead, unit = self._lengths(forward * float(body[ANKLE[side], 0]), mean, model)
        shank = body[ANKLE[side]] - body[KNEE[side]]
        shank_deg = np.degrees(np.arctan2(forward * shank[0], shank[1]))
        knee_deg = bend_deg(body[HIP[side]], body[KNEE[side]], body[ANKLE[side]])
        lean = trunk_lean_deg(mean, forward)
        return [
            Values("strike_ahead", side, ahead, unit, 4.0, event.at_ns),
            Values("shank_angle_at_contact", side, float(shank_deg), "deg", 6.0, event.at_ns),
            Values("knee_flexion_at_contact", side, knee_deg, "deg", 6.0, event.at_ns),
            Values("trunk_lean", None, lean, "deg", 3.0, event.at_ns),
        ]

    def _stance(
        self,
        event: GaitEvent,
        model: StrideModel,
        mean: MeanStride,
        phases: EventPhases,
        forward: float,
    ) -> list[Values]:
        """Values of a whole stance, known at toe-off."""
        side = event.side
        started = next((c for c in reversed(self.contacts) if c.side is side), None)
        if started is None or not 0.05 < (event.at_ns - started.at_ns) / NS_PER_S < 0.7:
            return []
        if self.setup.view is View.SIDE:
            contact_ms = (event.at_ns - started.at_ns) / NS_PER_MS
            span = (phases.toe_off[side] - phases.contact[side]) % (2 * np.pi)
            theta = phases.contact[side] + np.linspace(0.0, span, 24)
            curves = mean.at(theta)
            knee = max(
                bend_deg(body[HIP[side]], body[KNEE[side]], body[ANKLE[side]]) for body in curves
            )
            ankle = max(dorsiflexion_deg(body, side, forward) for body in curves)
            return [
                Values("contact_time", side, contact_ms, "ms", 40.0, event.at_ns),
                Values("knee_flexion_peak", side, knee, "deg", 6.0, event.at_ns),
                Values("ankle_dorsiflexion_peak", side, ankle, "deg", 8.0, event.at_ns),
            ]
        shift_px = self._shift_px(model, mean, phases, side, started.at_ns, event.at_ns)
        shift, unit = self._lengths(shift_px, mean, model)
        values = [Values("pelvic_shift", side, shift, unit, 1.0, event.at_ns)]
        cross, unit = self._lengths(self._crossing_px(mean, side), mean, model)
        values.append(Values("arm_crossing", side, cross, unit, 4.0, event.at_ns))
        return values

    def _to_right(self) -> float:
        """+1 where the runner's right is right in the picture."""
        return -1.0 if self.setup.view is View.FRONT else 1.0

    def _shift_px(
        self,
        model: StrideModel,
        mean: MeanStride,
        phases: EventPhases,
        side: Side,
        from_ns: int,
        to_ns: int,
    ) -> float:
        span = (phases.toe_off[side] - phases.contact[side]) % (2 * np.pi)
        theta = phases.contact[side] + np.linspace(0.0, span, 24)
        toward = self._to_right() * (1.0 if side is Side.RIGHT else -1.0)
        path = toward * mean.root_at(theta)[:, 0]
        near = [s for s in model.samples if from_ns - 5e7 <= s.captured_ns <= to_ns + 5e7]
        if len(near) >= 4:
            # This step's own departure, as a straight line: drift would bend a free fit.
            at = np.array([(s.captured_ns - from_ns) / (to_ns - from_ns) for s in near])
            own = np.array([s.root[0] for s in near])
            own = toward * (own - mean.root_at(np.array([s.theta for s in near]))[:, 0])
            slope = float(np.polyfit(at, own, 1)[0])
            path = path + OWN_STEP_SHARE * slope * np.linspace(0.0, 1.0, 24)
        return float(path.max() - path[0])

    def _crossing_px(self, mean: MeanStride, side: Side) -> float:
        curves = mean.at(PHASES)
        middle = (curves[:, Lm.LEFT_SHOULDER, 0] + curves[:, Lm.RIGHT_SHOULDER, 0]) / 2.0
        away = self._to_right() * (1.0 if side is Side.RIGHT else -1.0)
        outside = away * (curves[:, WRIST[side], 0] - middle)
        return float(-outside.min())


def symmetry_index(left: float, right: float) -> float:
    """(R - L) / half the sum, in % (Robinson, Herzog and Nigg 1987)."""
    return 100.0 * (right - left) / (0.5 * (right + left))


def body_at(model: StrideModel, mean: MeanStride, phase: float, at_ns: int) -> FloatArray:
    """(33, 2) landmarks less mid-hips, px: the mean stride moved part way to this step's frames."""
    body: FloatArray = mean.at(np.array([phase]))[0]
    total = np.full(33, 1e-6)
    moved = np.zeros((33, 2))
    scale2 = (0.08 * model.leg_px) ** 2
    for sample in reversed(model.samples):
        away_s = abs(sample.captured_ns - at_ns) / NS_PER_S
        if sample.captured_ns < at_ns - NEAR_S * NS_PER_S:
            break
        if away_s > NEAR_S or sample.residual is None:
            continue
        trust = sample.weight * (1.0 - away_s / NEAR_S)
        trust = trust / (1.0 + (sample.residual**2).sum(axis=1) / scale2)
        total += trust
        moved += trust[:, None] * sample.residual
    body += OWN_STEP_SHARE * moved / total[:, None]
    return body


def bend_deg(first: FloatArray, middle: FloatArray, last: FloatArray) -> float:
    """Angle at ``middle`` away from straight, deg; points (2,)."""
    upper, lower = middle - first, last - middle
    cross = float(upper[0] * lower[1] - upper[1] * lower[0])
    return float(np.degrees(abs(np.arctan2(cross, float(upper @ lower)))))


def dorsiflexion_deg(body: FloatArray, side: Side, forward: float) -> float:
    """Ankle dorsiflexion, 0 where shank and sole are square, deg; ``body`` (33, 2)."""
    shank = body[KNEE[side]] - body[ANKLE[side]]
    foot = body[TOE[side]] - body[HEEL[side]]
    up = np.arctan2(forward * shank[0], -shank[1])
    tilt = np.arctan2(-foot[1], forward * foot[0])
    return float(np.degrees(up + tilt))


def trunk_lean_deg(mean: MeanStride, forward: float) -> float:
    """Mid-hips to mid-shoulders from vertical, mean over the stride, deg, + forward."""
    curves = mean.at(PHASES)
    shoulders = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    return float(np.degrees(np.arctan2(forward * shoulders[:, 0], -shoulders[:, 1])).mean())
