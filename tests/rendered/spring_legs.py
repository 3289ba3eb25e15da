"""The legs of the second gait: captured strides, mixed, bent so that they meet the belt exactly.

In stance the sole rolls on the belt, and how far it rolls is solved for each step so that the knee
leaves the belt as bent as it should. In swing thigh, shank and foot point where the mixed stride
says, less what it would miss at either end, which fades out toward mid-swing.
"""

import numpy as np
from scipy.interpolate import CubicHermiteSpline, CubicSpline

from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.legs import DT, Legs, _at_least, _end_and_rate, forefoot_pitch
from tests.rendered.params import RunnerParams
from tests.rendered.spring_mass import Mass
from tests.rendered.spring_recipe import LegRecipe, Recipe
from tests.rendered.spring_upper import Clock, move
from tests.rendered.strides import SAMPLES
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Trunk

SHARES = np.linspace(0, 1, SAMPLES)
MOST_GAIN, ROUNDS = 1.7, 26
FADE_OUT, FADE_IN = 0.5, 0.45  # shares of swing over which the ends are made to fit
STRAIGHTEST_DEG = 5.0
SPREAD_M, SPREAD_DEG = 0.007, 0.9  # from step to step, of reach and of the landing foot
NEAR_M, NEAR_MPS = 0.008, 0.16  # a foot off the belt is higher than this speed would bring it


class SpringLegs(Legs):
    """Both legs on one timeline; where they differ from the first gait's."""

    def __init__(
        self,
        params: RunnerParams,
        body: Body,
        timeline: Timeline,
        recipe: Recipe,
        clock: Clock,
        mass: Mass,
        hip_height_m: float,
    ) -> None:
        self.params, self.body, self.timeline = params, body, timeline
        self.recipe, self.clock, self.mass = recipe, clock, mass
        self.hip_height_m = hip_height_m
        foot = body.foot
        self.heel, self.ball, self.toe = foot.heel, foot.ball, foot.toe
        self.height = foot.ankle_height_m
        self.thigh, self.shank = body.thigh_m, body.shank_m
        rng = np.random.default_rng([1991, params.seed])
        count = len(timeline.sides)
        draws = np.clip(rng.standard_normal((4, count)), -2, 2) * params.variability
        self.reach_spread, self.foot_spread = draws[0] * SPREAD_M, draws[1] * SPREAD_DEG
        self.bend_spread, self.width_spread = draws[2] * 2.0, draws[3] * 0.006
        self._rolls = {side: _roll_curve(recipe.legs[side]) for side in SIDES}
        self._swings = {
            side: CubicSpline(SHARES, recipe.legs[side].swing, axis=1) for side in SIDES
        }
        bend = np.radians(STRAIGHTEST_DEG)
        self.longest = float(
            np.sqrt(self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(bend))
        )
        self._gains: dict[int, float] = {}
        self.anchor = self._anchors()

    def trunk(self, t: Floats) -> Trunk:
        return move(self.params, self.recipe, self.clock, self.mass, self.hip_height_m, t)

    # --- stance -------------------------------------------------------------------------------

    def pitch_at(self, step: int, s: Floats) -> Floats:
        """Foot pitch (n,) rad at shares s of a step's stance, before it rolls off."""
        leg = self.recipe.legs[self.timeline.sides[step]]
        start = np.radians(leg.landing_deg + self.foot_spread[step])
        return np.asarray(start * np.clip(1 - s / leg.flat_share, 0, 1) ** leg.flat_power)

    def _across(self, step: int) -> float:
        width = self.params.step_width_m + self.width_spread[step]
        return float(width / 2 * (1 if self.timeline.sides[step] == "left" else -1))

    def _anchors(self) -> Floats:
        out = np.zeros((len(self.timeline.sides), 2))
        trunk = self.trunk(self.timeline.contact_s)
        hips = {side: self.hip(trunk, side) for side in SIDES}
        for i, side in enumerate(self.timeline.sides):
            leg = self.recipe.legs[side]
            thigh, shank = np.radians(leg.stance[:2, 0])
            ahead = self.thigh * np.sin(thigh) + self.shank * np.sin(shank)
            ahead += leg.ahead_m + self.reach_spread[i]
            offset = self.ankle_on(self.pitch_at(i, np.zeros(1)), np.zeros(1))[0]
            yaw, y = self.yaw(side), self._across(i)
            across = y + offset[0] * np.sin(yaw) - hips[side][i, 1]
            down = hips[side][i, 2] - offset[1]
            furthest = np.sqrt(max(self.longest**2 - across**2 - down**2, 0.0))
            x = hips[side][i, 0] + min(ahead, furthest)
            out[i] = x - offset[0] * np.cos(yaw), y
        return out

    def _gain(self, step: int) -> float:
        """How far the foot rolls, against the mixed stride, in this step."""
        if step not in self._gains:
            side = self.timeline.sides[step]
            off = np.array([self.timeline.toe_off_s[step]])
            hip = self.hip(self.trunk(off), side)
            wanted = np.radians(self.recipe.legs[side].toe_off_bend_deg + self.bend_spread[step])
            low, high = 0.2, MOST_GAIN
            for _ in range(ROUNDS):
                middle = (low + high) / 2
                pitch = middle * self._rolls[side](np.ones(1))
                straight = self.polar(hip, self._ankle_world(step, off, pitch))[1][0] < wanted
                low, high = (middle, high) if straight else (low, middle)
            self._gains[step] = (low + high) / 2
            start = self.timeline.contact_s[step]
            t = start + (off - start) * np.linspace(0.4, 1.0, 16)
            hip = self.hip(self.trunk(t), side)
            while self._gains[step] < 2 * MOST_GAIN:
                if np.degrees(self.polar(hip, self.stance(step, t)[0])[1]).min() > STRAIGHTEST_DEG:
                    break
                self._gains[step] *= 1.04
        return self._gains[step]

    def stance(self, step: int, t: Floats) -> tuple[Floats, Floats, Floats]:
        start, end = self.timeline.contact_s[step], self.timeline.toe_off_s[step]
        share = np.clip((t - start) / (end - start), 0, 1)
        roll = self._gain(step) * self._rolls[self.timeline.sides[step]](share)
        pitch = self.pitch_at(step, share) + roll
        toe_pitch = np.where(pitch < 0, forefoot_pitch(pitch), pitch)
        return self._ankle_world(step, t, pitch), pitch, toe_pitch

    # --- swing --------------------------------------------------------------------------------

    def _mixed(self, side: str, u: Floats, order: int = 0) -> tuple[Floats, Floats, Floats]:
        """Leg angle, knee bend and foot pitch (n,) rad of the mixed stride; order 1 their rates."""
        if order:
            ahead, behind = self._mixed(side, u + 1e-4), self._mixed(side, u - 1e-4)
            return tuple((a - b) / 2e-4 for a, b in zip(ahead, behind, strict=True))  # type: ignore[return-value]
        thigh, shank, foot = np.radians(self._swings[side](u))
        x = self.thigh * np.sin(thigh) + self.shank * np.sin(shank)
        down = self.thigh * np.cos(thigh) + self.shank * np.cos(shank)
        return np.arctan2(x, down), thigh - shank, foot

    def swing(
        self, step: int, next_step: int, t: Floats, hip: Floats
    ) -> tuple[Floats, Floats, Floats]:
        timeline = self.timeline
        side = timeline.sides[step]
        leg = self.recipe.legs[side]
        off, on = timeline.toe_off_s[step], timeline.contact_s[next_step]
        length = on - off
        u = (t - off) / length

        before = off - np.array([2 * DT, DT, 0.0])
        left_hip = self.hip(self.trunk(before), side)
        ankle, pitch, toe_pitch = self.stance(step, before)
        angle, bend = self.polar(left_hip, ankle)
        leaving = [_end_and_rate(v) for v in (angle, bend, pitch)]
        toe, toe_rate = _end_and_rate(toe_pitch - pitch)
        now = np.array([on])
        landed_hip = self.hip(self.trunk(now), side)
        at, end_pitch, end_toe = self.stance(next_step, now)
        end_angle, end_bend = self.polar(landed_hip, at)
        zero, one = np.zeros(1), np.ones(1)
        last_rates = [float(v[0]) / length for v in self._mixed(side, one, 1)]
        reach = float(np.linalg.norm(at - landed_hip))
        shorter = -self.thigh * self.shank * np.sin(end_bend[0]) / reach * last_rates[1]
        back = -leg.landing_speed_share * self.params.belt_speed_mps
        last_rates[0] = (back - shorter * np.sin(end_angle[0])) / (reach * np.cos(end_angle[0]))
        landing = zip((end_angle[0], end_bend[0], end_pitch[0]), last_rates, strict=True)

        mixed = self._mixed(side, u)
        first, first_rates = self._mixed(side, zero), self._mixed(side, zero, 1)
        last, own_rates = self._mixed(side, one), self._mixed(side, one, 1)
        fitted = []
        for k, ((v0, r0), (v1, r1)) in enumerate(zip(leaving, landing, strict=True)):
            start = CubicHermiteSpline(
                [0.0, FADE_OUT],
                [v0 - first[k][0], 0.0],
                [r0 * length - first_rates[k][0], 0.0],
            )
            end = CubicHermiteSpline(
                [1 - FADE_IN, 1.0],
                [0.0, v1 - last[k][0]],
                [0.0, r1 * length - own_rates[k][0]],
            )
            fitted.append(
                mixed[k] + start(np.minimum(u, FADE_OUT)) + end(np.maximum(u, 1 - FADE_IN))
            )
        angle, bend, pitch = fitted
        bend = _at_least(bend, np.radians(4.0), np.radians(2.0) * np.clip(20 * u * (1 - u), 0, 1))

        ease = u * u * (3 - 2 * u)
        outward = leg.outward_m * np.sin(np.pi * u) ** 2 * (1 if side == "left" else -1)
        y = ankle[2, 1] + (at[0, 1] - ankle[2, 1]) * ease + outward
        reach_now = np.sqrt(
            self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(bend)
        )
        flat_reach = np.sqrt(reach_now**2 - (y - hip[:, 1]) ** 2)
        placed = np.stack(
            [hip[:, 0] + flat_reach * np.sin(angle), y, hip[:, 2] - flat_reach * np.cos(angle)], 1
        )
        toe_curve = CubicHermiteSpline(
            [off, off + 0.3 * length, on],
            [toe, 0.0, float(end_toe[0] - end_pitch[0])],
            [toe_rate, 0.0, 0.0],
        )
        toe_pitch = pitch + toe_curve(t)
        low = self.lowest(placed[:, 2], pitch, toe_pitch)
        near = NEAR_M * (1 - np.exp(-np.minimum(t - off, on - t) * NEAR_MPS / NEAR_M))
        placed[:, 2] += _at_least(low, near, near) - low
        return placed, pitch, toe_pitch


def _roll_curve(leg: LegRecipe) -> CubicSpline:
    """The foot's pitch (rad) over stance once the heel has left: it only goes on turning."""
    turning = np.minimum(np.gradient(leg.stance[2], SHARES), 0.0)
    turning *= np.clip((SHARES - leg.heel_off_share) / 0.08, 0, 1)
    turned = np.concatenate([[0.0], np.cumsum((turning[1:] + turning[:-1]) / 2 * SHARES[1])])
    return CubicSpline(SHARES, np.radians(turned))
