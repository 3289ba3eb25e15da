"""The rendered runner's gait as one thing: solve what is open, then ask for any time's pose."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from tests.rendered import arms, extras
from tests.rendered import timeline as steps
from tests.rendered import trunk as trunks
from tests.rendered.body import SIDES, Body, Floats, load_body
from tests.rendered.legs import Leg, Legs, LegSolved
from tests.rendered.motion import Motion
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Solved

SOLVE_ROUNDS = 3
LEAST_BEND_DEG = 14.0  # the heel leaves before the knee is straighter than this


@dataclass(frozen=True)
class Gait:
    """A runner with everything settled; `motion(t)` gives the body at any times."""

    params: RunnerParams
    body: Body
    timeline: Timeline
    solved: Solved
    legs: Legs
    inward_rad: dict[str, float]
    flat_from_deg: float = -1e-4

    @property
    def anchors(self) -> Floats:
        return self.legs.anchor

    @property
    def told(self) -> dict[str, Any]:
        return {}

    def shank_lean(self, leg: Leg) -> Floats:
        """Forward lean of the shank (n,) rad, + knee ahead of the ankle, in the side view."""
        return self.legs.shank_lean(leg.hip, leg.ankle)

    def knee_bend(self, leg: Leg) -> Floats:
        """Bend of the knee (n,) rad, 0 = hip, knee and ankle in one line."""
        return self.legs.polar(leg.hip, leg.ankle)[1]

    def motion(self, t: Floats) -> Motion:
        """The body at times t (n,) s, with standing and happenings."""
        return extras.applied(self, np.asarray(t, dtype=float))

    def running(self, t: Floats) -> Motion:
        """The plain running gait at times t (n,) s."""
        trunk = trunks.move(self.params, self.solved, self.timeline, t)
        return Motion(
            t,
            trunk,
            {s: self.legs.leg(trunk, s, t) for s in SIDES},
            {
                s: arms.arm(self.params, self.body, self.timeline, trunk, s, self.inward_rad[s], t)
                for s in SIDES
            },
        )


def make_gait(params: RunnerParams, duration_s: float) -> Gait:
    """Solve the open quantities on a spread-free copy, then lay out the real steps."""
    body = load_body(params.body, params.height_m)
    solved, legs, inward = _solve(
        replace(
            params,
            step_time_sd_pct=0.0,
            variability=0.0,
            seed=0,
            stand_s=0.0,
            loop_steps=0,
            happenings=(),
        )
    )
    timeline = steps.build(params, duration_s)
    return Gait(params, body, timeline, solved, Legs(params, body, timeline, solved, legs), inward)


def solve_upper_body(params: RunnerParams) -> tuple[Solved, dict[str, float]]:
    """How trunk and arms are held so that they come out as asked, whatever the legs do."""
    plain = replace(
        params, step_time_sd_pct=0.0, variability=0.0, seed=0, stand_s=0.0, happenings=()
    )
    body = load_body(params.body, params.height_m)
    trial = _Trial(plain, body)
    first = Solved(chest_pitch_deg=params.trunk_lean_deg)
    solved = _solve_lean(plain, body, trial, first)
    return solved, _solve_arms(plain, body, trial, solved)


class _Trial:
    """The spread-free gait with one guess of the open quantities."""

    def __init__(self, params: RunnerParams, body: Body) -> None:
        self.params = params
        self.body, self.timeline = body, steps.nominal(params)

    def legs(self, solved: Solved, open_: dict[str, LegSolved]) -> Legs:
        return Legs(self.params, self.body, self.timeline, solved, open_)

    def step(self, side: str) -> int:
        return steps.LEAD_STEPS + (self.timeline.parity(side))

    def stance(
        self, solved: Solved, open_: dict[str, LegSolved], side: str
    ) -> tuple[Floats, Floats, Floats]:
        """Share of stance, knee bend (deg) and ankle bend (deg) through one stance."""
        legs, step = self.legs(solved, open_), self.step(side)
        start, end = self.timeline.contact_s[step], self.timeline.toe_off_s[step]
        t = np.linspace(start, end, 121)
        hip = legs.hip(trunks.move(self.params, solved, self.timeline, t), side)
        ankle, pitch, _ = legs.stance(step, t)
        _, bend = legs.polar(hip, ankle)
        flex = pitch + legs.shank_lean(hip, ankle)
        return (t - start) / (end - start), np.degrees(bend), np.degrees(flex)


def _bisect(low: float, high: float, too_low: Callable[[float], bool], rounds: int = 16) -> float:
    for _ in range(rounds):
        middle = (low + high) / 2
        low, high = (middle, high) if too_low(middle) else (low, middle)
    return (low + high) / 2


@lru_cache(maxsize=64)
def _solve(params: RunnerParams) -> tuple[Solved, dict[str, LegSolved], dict[str, float]]:
    """What the parameters leave open, for a gait without spread or happenings."""
    body = load_body(params.body, params.height_m)
    trial = _Trial(params, body)
    leg_m = body.leg_length_m
    solved = Solved(hip_height_m=0.93 * leg_m, chest_pitch_deg=params.trunk_lean_deg)
    open_ = {s: LegSolved() for s in SIDES}

    def knee_at_contact(height: float) -> float:
        guess = replace(solved, hip_height_m=height)
        return float(np.mean([trial.stance(guess, open_, s)[1][0] for s in SIDES]))

    def knee_peak(**changed: float) -> float:
        guess = replace(solved, **changed)
        peaks = []
        for s in SIDES:
            share, bend, _ = trial.stance(guess, open_, s)
            peaks.append(bend[share < 0.7].max())
        return float(np.mean(peaks))

    wanted = params.knee_flexion_peak_deg
    for _ in range(SOLVE_ROUNDS):
        height = _bisect(
            0.7 * leg_m, leg_m, lambda h: knee_at_contact(h) > params.knee_flexion_contact_deg
        )
        solved = replace(solved, hip_height_m=height)
        rise = params.force_rise
        if rise is None:
            rise = _bisect(0.1, 1.8, lambda r: knee_peak(force_rise=r) < wanted)
        solved = replace(solved, force_rise=rise)
        scale = _bisect(0.85, 1.0, lambda k: knee_peak(height_scale=k) < wanted)
        solved = replace(solved, height_scale=scale)
        for side in SIDES:
            open_ = {**open_, side: _solve_leg(trial, solved, open_, side)}
    solved = _solve_lean(params, body, trial, solved)
    return solved, open_, _solve_arms(params, body, trial, solved)


def _solve_leg(trial: _Trial, solved: Solved, open_: dict[str, LegSolved], side: str) -> LegSolved:
    """When the heel leaves: once the ankle has bent as far as asked, the knee allowing."""
    wanted = trial.params.ankle_dorsiflexion_peak_deg.of(side)

    def may_leave_later(share: float) -> bool:
        _, bend, flex = trial.stance(solved, {**open_, side: LegSolved(share)}, side)
        return bool(flex.max() < wanted and bend[40:].min() > LEAST_BEND_DEG)

    return LegSolved(_bisect(0.46, 0.68, may_leave_later, 12))


def _solve_lean(params: RunnerParams, body: Body, trial: _Trial, solved: Solved) -> Solved:
    stride = 120.0 / params.cadence_spm
    t = np.linspace(0, stride, 100, endpoint=False)
    for _ in range(3):
        trunk = trunks.move(trial.params, solved, trial.timeline, t)
        top = (arms.shoulder(body, trunk, "left") + arms.shoulder(body, trunk, "right")) / 2
        line = top - trunk.mid_hips
        lean = float(np.degrees(np.arctan2(line[:, 0], line[:, 2])).mean())
        more = (params.trunk_lean_deg - lean) * 1.2
        solved = replace(solved, chest_pitch_deg=solved.chest_pitch_deg + more)
    return solved


def _solve_arms(
    params: RunnerParams, body: Body, trial: _Trial, solved: Solved
) -> dict[str, float]:
    stride = 120.0 / params.cadence_spm
    t = np.linspace(0, stride, 120, endpoint=False)
    trunk = trunks.move(trial.params, solved, trial.timeline, t)
    centre = (arms.shoulder(body, trunk, "left") + arms.shoulder(body, trunk, "right")) / 2
    out = {}
    for side in SIDES:

        def too_straight(turn: float, side: str = side) -> bool:
            moved = arms.arm(trial.params, body, trial.timeline, trunk, side, turn, t)
            found = arms.path_direction_deg(moved.wrist, centre, side)
            return found < params.arm_direction_deg.of(side)

        out[side] = _bisect(-1.0, 1.5, too_straight)
    return out
