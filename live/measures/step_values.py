"""Values by step: counts the steps, times them, and puts the raw readings right."""

from __future__ import annotations

import itertools
from collections import deque
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from live.measures import calibration, readings
from live.measures.events import FootEvent, time_of_phase
from live.measures.readings import Scene
from live.scene.leg_place import place_of
from live.stride.fourier import TWO_PI
from shared import catalogue
from shared.flow import EventKind, Side, View
from shared.statistics import Z90, symmetry_index
from shared.units import NS_PER_MS, NS_PER_S

CADENCE_STEPS: Final = 8
FEWEST_CADENCE_STEPS: Final = 4
ASYMMETRY_STRIDES: Final = 20
LENGTHS: Final = frozenset(
    {"strike_ahead", "vertical_excursion", "pelvic_shift", "arm_crossing", "step_width"}
)


@dataclass(frozen=True, slots=True)
class Setup:
    """What was said before the run."""

    view: View
    height_m: float | None = None
    belt_speed_mps: float | None = None


@dataclass(frozen=True, slots=True)
class Value:
    """One value before it becomes a Measure."""

    name: str
    side: Side | None
    value: float
    unit: str
    uncertainty: float
    at_ns: int
    steps: int = 1
    percent_leg: float | None = None


@dataclass(slots=True)
class StepMeasurer:
    """Keeps the events so far and turns each new one into values."""

    setup: Setup
    contacts: deque[FootEvent] = field(default_factory=lambda: deque(maxlen=64))
    toe_offs: deque[FootEvent] = field(default_factory=lambda: deque(maxlen=4))
    step_number: int = 0

    def reset(self) -> None:
        """Start a new run of steps; the step count goes on."""
        self.contacts.clear()
        self.toe_offs.clear()

    def on_event(self, event: FootEvent, scene: Scene) -> list[Value]:
        """Values that become known with ``event``."""
        if event.kind is EventKind.CONTACT:
            self._count(event)
            values = self._times(event, scene)
            if self.setup.view is View.SIDE:
                raw = readings.at_contact(scene, event.side, event.at_ns)
                values += self._put_right(raw, event, scene)
            return values
        self.toe_offs.append(event)
        started = next((c for c in reversed(self.contacts) if c.side is event.side), None)
        if started is None or not 0.05 < (event.at_ns - started.at_ns) / NS_PER_S < 0.7:
            return []
        if self.setup.view is not View.SIDE:
            raw = readings.across(scene, event.side, started.at_ns, event.at_ns)
            return self._put_right(raw, event, scene)
        raw = readings.over_stance(scene, event.side)
        raw["contact_time"] = (event.at_ns - started.at_ns) / NS_PER_MS
        stride_ms = 1000.0 / scene.mean.rate_hz
        raw["duty_factor"] = 100.0 * raw["contact_time"] / stride_ms
        return self._put_right(raw, event, scene)

    # -- times -------------------------------------------------------------------------

    def _count(self, event: FootEvent) -> None:
        if self.contacts:
            last = self.contacts[-1]
            gap_s = (event.at_ns - last.at_ns) / NS_PER_S
            # Two contacts of one foot in a row, or a long gap: a step was lost in between.
            if last.side is event.side or gap_s > 1.0:
                self.contacts.clear()
        self.contacts.append(event)
        self.step_number += 1

    def _times(self, event: FootEvent, scene: Scene) -> list[Value]:
        contacts = list(self.contacts)
        values: list[Value] = []
        steps = min(CADENCE_STEPS, len(contacts) - 1)
        # An even number of steps, so that a limp does not sway the mean.
        steps -= steps % 2
        if steps >= FEWEST_CADENCE_STEPS:
            span_s = _steps_span_s(contacts, steps, scene)
            cadence = 60.0 * steps / span_s
            sd_s = calibration.correction("steps_span", calibration.ANY).sd / 1000.0
            error = Z90 * cadence * sd_s / span_s
            values.append(
                Value(
                    catalogue.CADENCE,
                    None,
                    cadence,
                    catalogue.STEPS_PER_MIN,
                    error,
                    event.at_ns,
                    steps,
                )
            )
        if len(contacts) >= 2:
            values += self._one_step(event, (event.at_ns - contacts[-2].at_ns) / NS_PER_S, scene)
        if len(contacts) > 2 * ASYMMETRY_STRIDES and scene.sides_sure:
            values.append(self._asymmetry(event, contacts[-(2 * ASYMMETRY_STRIDES + 1) :]))
        return values

    def _one_step(self, event: FootEvent, step_s: float, scene: Scene) -> list[Value]:
        place = self._place(event.side, scene)
        sd_s = calibration.correction("step_time", place).sd / 1000.0
        values: list[Value] = []
        speed = self.setup.belt_speed_mps
        if speed is None and scene.scale.belt_speed_mps is not None:
            speed = scene.scale.belt_speed_mps
            error = Z90 * scene.scale.belt_speed_sd * speed
            values.append(
                Value("belt_speed", None, 3.6 * speed, catalogue.KMH, 3.6 * error, event.at_ns)
            )
        if speed is not None:
            length = 100.0 * speed * step_s
            error = Z90 * 100.0 * speed * sd_s
            if self.setup.belt_speed_mps is None:
                error = float(np.hypot(error, Z90 * scene.scale.belt_speed_sd * length))
            side = event.side if scene.sides_sure else None
            values.append(Value("step_length", side, length, catalogue.CM, error, event.at_ns))
        if self.setup.view is View.SIDE and self.toe_offs:
            left = self.toe_offs[-1]
            flight_ms = (event.at_ns - left.at_ns) / NS_PER_MS
            if left.side is event.side.other and abs(flight_ms) < 1000.0 * step_s:
                values += self._put_right({"flight_time": flight_ms}, left, scene)
        return values

    def _asymmetry(self, event: FootEvent, contacts: list[FootEvent]) -> Value:
        times: dict[Side, list[int]] = {side: [] for side in Side}
        for earlier, later in itertools.pairwise(contacts):
            times[later.side].append(later.at_ns - earlier.at_ns)
        left, right = (float(np.mean(times[side])) for side in (Side.LEFT, Side.RIGHT))
        fix = calibration.correction("step_asymmetry", calibration.ANY)
        return Value(
            "step_asymmetry",
            None,
            symmetry_index(left, right),
            catalogue.PERCENT,
            Z90 * fix.sd,
            event.at_ns,
            2 * ASYMMETRY_STRIDES,
        )

    # -- readings ----------------------------------------------------------------------

    def _place(self, side: Side, scene: Scene) -> str:
        if self.setup.view is View.SIDE and not scene.sides_sure:
            return calibration.EITHER
        return place_of(self.setup.view, side, scene.forward)

    def _put_right(self, raw: dict[str, float], event: FootEvent, scene: Scene) -> list[Value]:
        values = []
        for name, reading in raw.items():
            by_side = catalogue.CATALOGUE[name].by_side
            place = self._place(event.side, scene) if by_side else calibration.ANY
            if name == "pelvic_shift" and not scene.mean.hips_seen:
                place = calibration.LANDMARKS
            fix = calibration.correction(name, place)
            side = event.side if by_side and scene.sides_sure else None
            if name in LENGTHS:
                values.append(self._length(name, side, reading, fix, event, scene))
            else:
                unit = catalogue.CATALOGUE[name].units[0]
                value = fix.gain * reading + fix.offset
                values.append(Value(name, side, value, unit, Z90 * fix.sd, event.at_ns))
        return values

    def _length(
        self,
        name: str,
        side: Side | None,
        reading: float,
        fix: calibration.Correction,
        event: FootEvent,
        scene: Scene,
    ) -> Value:
        """A length in cm where the scale is known, else in % of leg length."""
        leg_px = scene.scale.leg_to_floor_px
        share = fix.gain * 100.0 * reading / leg_px + fix.offset
        error = Z90 * fix.sd
        scale = scene.scale.px_per_m
        if scale is None:
            return Value(name, side, share, catalogue.PERCENT_LEG, error, event.at_ns)
        leg_m = leg_px / scale
        return Value(name, side, share * leg_m, catalogue.CM, error * leg_m, event.at_ns, 1, share)


def _steps_span_s(contacts: list[FootEvent], steps: int, scene: Scene) -> float:
    """Time of the newest steps, an even number: from this phase of the stride to the same before.

    Where in the stride contact lies is learnt anew each half stride. A contact that was told by an
    earlier reading of it would carry the difference into the span, so this one's is followed back;
    only where the stride was not followed so long, from contact to contact.
    """
    newest, model = contacts[-1], scene.model
    phase = scene.phases.contact[newest.side]
    passed = phase + TWO_PI * np.floor((model.state.theta - phase) / TWO_PI)
    before_ns = time_of_phase(model, float(passed) - np.pi * steps)
    if before_ns is None:
        before_ns = contacts[-1 - steps].at_ns
    return (newest.at_ns - before_ns) / NS_PER_S
