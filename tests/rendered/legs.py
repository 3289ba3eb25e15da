"""The legs: feet fixed to the belt in stance, swung through the air between, knees by two bones.

In stance the foot rolls on points of its sole that travel exactly with the belt: heel, then flat,
then ball and toe. In swing the ankle is steered by leg angle and knee bend about the hip, reaches
furthest forward `retraction_s` before contact and comes back to land.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Solved, Trunk, move, turn_z

FLAT_REAR, FLAT_FORE = 0.17, 0.24  # share of contact until the foot is flat; from memory
TOE_LIMIT_RAD = np.radians(28.0)  # the shoe's forefoot bends this far before it rolls as well
SOFT_RAD = np.radians(3.0)
ROLL_ROUNDS = 32
TOE_OFF_BEND_DPS = 250.0  # rate of the knee's bend at toe-off; from memory
CONTACT_BEND_DEG = 6.0  # no contact with a straighter knee
LEAST_BEND_DEG = 4.0  # the swinging knee is never straighter
CLEARANCE_M, CLEAR_WITHIN_S = 0.006, 0.06  # least height of the swinging sole
SWING_FLEX_DEG = -5.0  # ankle in mid-swing, a little short of square; from memory
PUSH_DECAY_S = 0.02
DT = 1e-3


@dataclass(frozen=True)
class LegSolved:
    """What is left open for one leg: the share of contact at which the heel leaves."""

    heel_off_share: float = 0.5


@dataclass(frozen=True)
class Leg:
    """One leg over n times: joint centres (n, 3) m, foot pitch and forefoot pitch (n,) rad
    (+ toe up), how far the foot is turned to the left (rad, one number or (n,)), whether it is on
    the belt (n,)."""

    hip: Floats
    knee: Floats
    ankle: Floats
    pitch: Floats
    toe_pitch: Floats
    yaw_rad: float | Floats
    on_belt: Floats


def rolled(pitch: Floats, x: float, z: float) -> Floats:
    """A point of the foot's side view turned by its pitch (+ toe up): (n, 2)."""
    c, s = np.cos(pitch), np.sin(pitch)
    return np.stack([x * c - z * s, x * s + z * c], axis=-1)


def forefoot_pitch(pitch: Floats) -> Floats:
    """Forefoot's pitch in stance: flat until the shoe has bent to its limit, smooth after."""
    over = (-pitch - TOE_LIMIT_RAD) / SOFT_RAD
    soft = np.where(over > 30, over, np.log1p(np.exp(np.minimum(over, 30))))
    start = np.log1p(np.exp(-TOE_LIMIT_RAD / SOFT_RAD))
    return np.asarray(-SOFT_RAD * np.maximum(soft - start, 0.0))


class Legs:
    """Both legs of one runner on one timeline."""

    def __init__(
        self,
        params: RunnerParams,
        body: Body,
        timeline: Timeline,
        solved: Solved,
        legs: dict[str, LegSolved],
    ) -> None:
        self.params, self.body, self.timeline = params, body, timeline
        self.solved, self.legs = solved, legs
        foot = body.foot
        self.heel, self.ball, self.toe = foot.heel, foot.ball, foot.toe
        self.height = foot.ankle_height_m
        self.thigh, self.shank = body.thigh_m, body.shank_m
        # A step that chance makes too long for the leg lands as far ahead as a bent knee allows.
        straightest = np.radians(CONTACT_BEND_DEG)
        self.longest = float(
            np.sqrt(
                self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(straightest)
            )
        )
        self.anchor = self._anchors()

    # --- where things are -------------------------------------------------------------------

    def hip(self, trunk: Trunk, side: str) -> Floats:
        """Hip joint centre (n, 3) m."""
        offset = self.body.rest(f"{side}_hip") - self.body.rest("pelvis")
        return trunk.mid_hips + trunk.pelvis @ offset

    def pitch_at(self, step: int, s: Floats) -> Floats:
        """Foot pitch (n,) rad at shares s of a step's stance, until the heel leaves."""
        side = self.timeline.sides[step]
        start = np.radians(
            self.params.foot_angle_contact_deg.of(side)
            + self.timeline.deviations["foot_angle_deg"][step]
        )
        flat = FLAT_REAR if start >= 0 else FLAT_FORE
        landing = start * np.clip(1 - s / flat, 0, 1) ** 2
        return np.asarray(landing)

    def _roll(self, step: int, t: Floats) -> Floats:
        """Foot pitch (n,) rad after the heel has left, so that the knee bends as it should.

        The knee goes on from its bend at heel-off to the bend asked for at toe-off; the foot
        rolls as far as that needs.
        """
        timeline = self.timeline
        side = timeline.sides[step]
        start, end = timeline.contact_s[step], timeline.toe_off_s[step]
        leave = start + (end - start) * self.legs[side].heel_off_share
        before = leave - np.array([2 * DT, DT, 0.0])
        hip = self.hip(move(self.params, self.solved, timeline, before), side)
        pitch = self.pitch_at(step, (before - start) / (end - start))
        ankle = self._ankle_world(step, before, pitch)
        bend, rate = _end_and_rate(self.polar(hip, ankle)[1])
        last = np.radians(self.params.knee_flexion_toe_off_deg)
        curve = CubicHermiteSpline([leave, end], [bend, last], [rate, np.radians(TOE_OFF_BEND_DPS)])
        t = np.minimum(t, end)
        hip = self.hip(move(self.params, self.solved, timeline, t), side)
        wanted = curve(t)
        low, high = np.full_like(t, -1.6), np.zeros_like(t)
        for _ in range(ROLL_ROUNDS):
            middle = (low + high) / 2
            too_straight = self.polar(hip, self._ankle_world(step, t, middle))[1] < wanted
            high = np.where(too_straight, middle, high)
            low = np.where(too_straight, low, middle)
        return (low + high) / 2

    def ankle_on(self, pitch: Floats, toe_pitch: Floats) -> Floats:
        """Ankle (n, 2) m, forward and up, from the belt point under the flat foot's ankle."""
        at_heel = np.array([self.heel[0], 0.0]) + rolled(pitch, -self.heel[0], self.height)
        toe_to_ball = rolled(toe_pitch, self.ball[0] - self.toe[0], 0.0)
        ball = np.array([self.toe[0], 0.0]) + toe_to_ball
        at_ball = ball + rolled(pitch, -self.ball[0], self.height)
        return np.where((pitch > 0)[:, None], at_heel, at_ball)

    def yaw(self, side: str) -> float:
        """How far a foot is turned to the left (rad): toes out on both sides."""
        outward = 1 if side == "left" else -1
        return float(np.radians(self.params.toe_out_deg.of(side)) * outward)

    def _across(self, step: int) -> float:
        side = self.timeline.sides[step]
        width = self.params.step_width_m + self.timeline.deviations["step_width_m"][step]
        return float(width / 2 * (1 if side == "left" else -1))

    def _anchors(self) -> Floats:
        """Belt point (n_steps, 2) m under each flat foot's ankle, at its contact."""
        timeline = self.timeline
        trunk = move(self.params, self.solved, timeline, timeline.contact_s)
        out = np.zeros((len(timeline.sides), 2))
        hips = {s: self.hip(trunk, s) for s in SIDES}
        for i, side in enumerate(timeline.sides):
            ahead = self.params.strike_ahead_m.of(side) + timeline.deviations["strike_ahead_m"][i]
            offset = self.ankle_on(self.pitch_at(i, np.zeros(1)), np.zeros(1))[0]
            yaw = self.yaw(side)
            y = self._across(i)
            across = y + offset[0] * np.sin(yaw) - hips[side][i, 1]
            down = hips[side][i, 2] - offset[1]
            room = self.longest**2 - across**2 - down**2
            furthest = hips[side][i, 0] + np.sqrt(max(room, 0.0))
            x = min(trunk.mid_hips[i, 0] + ahead, furthest)
            out[i] = x - offset[0] * np.cos(yaw), y
        return out

    def _ankle_world(self, step: int, t: Floats, pitch: Floats) -> Floats:
        """Ankle (n, 3) m of a foot on the belt with the given pitch."""
        local = self.ankle_on(pitch, np.where(pitch < 0, forefoot_pitch(pitch), 0.0))
        yaw = self.yaw(self.timeline.sides[step])
        gone = self.params.belt_speed_mps * (t - self.timeline.contact_s[step])
        x = self.anchor[step, 0] - gone + local[:, 0] * np.cos(yaw)
        y = self.anchor[step, 1] + local[:, 0] * np.sin(yaw)
        return np.stack([x, y, local[:, 1]], axis=1)

    def stance(self, step: int, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Ankle (n, 3) m, foot pitch and forefoot pitch (n,) rad of a step's stance at t."""
        start, end = self.timeline.contact_s[step], self.timeline.toe_off_s[step]
        share = (t - start) / (end - start)
        pitch = self.pitch_at(step, share)
        late = share > self.legs[self.timeline.sides[step]].heel_off_share
        if late.any():
            pitch[late] = self._roll(step, t[late])
        toe_pitch = np.where(pitch < 0, forefoot_pitch(pitch), pitch)
        return self._ankle_world(step, t, pitch), pitch, toe_pitch

    # --- swing --------------------------------------------------------------------------------

    def polar(self, hip: Floats, ankle: Floats) -> tuple[Floats, Floats]:
        """Leg angle (n,) rad (+ ankle ahead of the hip, seen from the side) and knee bend."""
        v = ankle - hip
        angle = np.arctan2(v[:, 0], -v[:, 2])
        reach = np.linalg.norm(v, axis=1)
        cosine = (self.thigh**2 + self.shank**2 - reach**2) / (2 * self.thigh * self.shank)
        return angle, np.pi - np.arccos(np.clip(cosine, -1, 1))

    def shank_lean(self, hip: Floats, ankle: Floats) -> Floats:
        """Forward lean of the shank (n,) rad, + knee ahead of the ankle, in the side view."""
        angle, bend = self.polar(hip, ankle)
        reach = np.sqrt(self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(bend))
        at_ankle = np.arcsin(np.clip(self.thigh * np.sin(bend) / reach, -1, 1))
        return at_ankle - angle

    def _ends(self, step: int, next_step: int) -> tuple[Floats, ...]:
        """Leg angle, knee bend, ankle bend with their rates, at toe-off and at contact."""
        timeline, params = self.timeline, self.params
        side = timeline.sides[step]
        off, on = timeline.toe_off_s[step], timeline.contact_s[next_step]
        t = off - np.array([2 * DT, DT, 0.0])
        hip = self.hip(move(params, self.solved, timeline, t), side)
        ankle, pitch, toe_pitch = self.stance(step, t)
        angle, bend = self.polar(hip, ankle)
        flex = pitch + self.shank_lean(hip, ankle)
        toe_off = [_end_and_rate(v) for v in (angle, bend, flex, toe_pitch - pitch)]

        now = np.array([on])
        hip = self.hip(move(params, self.solved, timeline, now), side)
        at, pitch, toe_pitch = self.stance(next_step, now)
        angle, bend = self.polar(hip, at)
        flex = pitch + self.shank_lean(hip, at)
        reach = float(np.linalg.norm(at - hip))
        bend_rate = np.radians(params.landing_bend_dps)
        shortening = -self.thigh * self.shank * np.sin(bend[0]) / reach * bend_rate
        speed = -params.landing_speed_share * params.belt_speed_mps
        angle_rate = (speed - shortening * np.sin(angle[0])) / (reach * np.cos(angle[0]))
        contact = [
            (float(angle[0]), float(angle_rate)),
            (float(bend[0]), bend_rate),
            (float(flex[0]), 0.0),
        ]
        contact.append((float(toe_pitch[0] - pitch[0]), 0.0))
        return tuple(np.array([*a, *b]) for a, b in zip(toe_off, contact, strict=True))

    def swing(
        self, step: int, next_step: int, t: Floats, hip: Floats
    ) -> tuple[Floats, Floats, Floats]:
        """Ankle, foot pitch and forefoot pitch between a toe-off and the same foot's contact."""
        timeline, params = self.timeline, self.params
        side = timeline.sides[step]
        off, on = timeline.toe_off_s[step], timeline.contact_s[next_step]
        angle, bend, flex, toe = self._ends(step, next_step)
        length = on - off
        back = min(params.retraction_s, 0.4 * length)
        front = angle[2] - angle[3] * back / 2
        reach_curve = CubicHermiteSpline(
            [off, on - back, on], [angle[0], front, angle[2]], [angle[1], 0.0, angle[3]]
        )
        most = np.radians(
            params.knee_flexion_swing_deg.of(side) + timeline.deviations["knee_swing_deg"][step]
        )
        peak = off + params.swing_peak_share * length
        bend_curve = CubicHermiteSpline(
            [off, peak, on], [bend[0], most, bend[2]], [bend[1], 0.0, bend[3]]
        )
        flex_curve = CubicHermiteSpline(
            [off, off + 0.45 * length, on],
            [flex[0], np.radians(SWING_FLEX_DEG), flex[2]],
            [0.0, np.radians(60.0), 0.0],
        )
        toe_curve = CubicHermiteSpline(
            [off, off + 0.25 * length, on], [toe[0], 0.0, toe[2]], [toe[1], 0.0, 0.0]
        )
        u = (t - off) / length
        ease = u * u * (3 - 2 * u)
        outward = 0.012 * np.sin(np.pi * u) ** 2 * (1 if side == "left" else -1)
        y0 = self.stance(step, np.array([off]))[0][0, 1]
        y1 = self.stance(next_step, np.array([on]))[0][0, 1]
        y = y0 + (y1 - y0) * ease + outward
        ramp = np.clip(np.minimum(t - off, on - t) / CLEAR_WITHIN_S, 0, 1)
        k = _at_least(bend_curve(t), np.radians(LEAST_BEND_DEG), np.radians(3.0) * ramp)
        reach = np.sqrt(self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(k))
        flat_reach = np.sqrt(reach**2 - (y - hip[:, 1]) ** 2)
        forth = np.clip((t - off) / (length - back), 0, 1)
        late = 16 * params.swing_late_share * length * (forth * (1 - forth)) ** 2
        a = reach_curve(t - late)
        ankle = np.stack(
            [hip[:, 0] + flat_reach * np.sin(a), y, hip[:, 2] - flat_reach * np.cos(a)], axis=1
        )
        # The push of the calf dies away quickly once the foot has left.
        push = flex[1] * (t - off) * np.exp(-(t - off) / PUSH_DECAY_S)
        pitch = flex_curve(t) + push - self.shank_lean(hip, ankle)
        toe_pitch = pitch + toe_curve(t)
        low = self.lowest(ankle[:, 2], pitch, toe_pitch)
        ankle[:, 2] += _at_least(low, CLEARANCE_M * ramp, CLEARANCE_M * ramp) - low
        return ankle, pitch, toe_pitch

    def lowest(self, ankle_up: Floats, pitch: Floats, toe_pitch: Floats) -> Floats:
        """Height (n,) m of the lowest point of the sole."""
        heel = ankle_up + rolled(pitch, *self.heel)[:, 1]
        ball = ankle_up + rolled(pitch, *self.ball)[:, 1]
        toe = ball + rolled(toe_pitch, self.toe[0] - self.ball[0], 0.0)[:, 1]
        return np.minimum(np.minimum(heel, ball), toe)

    # --- all together ---------------------------------------------------------------------------

    def leg(self, trunk: Trunk, side: str, t: Floats) -> Leg:
        """One leg at times t (n,) s."""
        hip = self.hip(trunk, side)
        ankle = np.zeros((len(t), 3))
        pitch, toe_pitch, on_belt = np.zeros(len(t)), np.zeros(len(t)), np.zeros(len(t))
        timeline = self.timeline
        mine = [i for i, s in enumerate(timeline.sides) if s == side]
        for step, after in zip(mine, [*mine[1:], None], strict=True):
            on = (t >= timeline.contact_s[step]) & (t <= timeline.toe_off_s[step])
            if on.any():
                ankle[on], pitch[on], toe_pitch[on] = self.stance(step, t[on])
                on_belt[on] = 1.0
            if after is None:
                break
            air = (t > timeline.toe_off_s[step]) & (t < timeline.contact_s[after])
            if air.any():
                ankle[air], pitch[air], toe_pitch[air] = self.swing(step, after, t[air], hip[air])
        yaw = self.yaw(side)
        inward = np.radians(self.params.knee_inward_deg.of(side)) * (-1 if side == "left" else 1)
        forward = turn_z(np.array(0.5 * yaw + inward)) @ np.array([1.0, 0.0, 0.0])
        knee = two_bones(hip, ankle, self.thigh, self.shank, forward)
        return Leg(hip, knee, ankle, pitch, toe_pitch, yaw, on_belt)


def two_bones(
    root: Floats, end: Floats, first: float | Floats, second: float | Floats, toward: Floats
) -> Floats:
    """Middle joint (n, 3) of two bones from root to end (n, 3), bent toward a direction.

    Raises ValueError where the end is out of reach.
    """
    span = end - root
    distance = np.linalg.norm(span, axis=1)
    if (distance >= first + second).any() or (distance <= abs(first - second)).any():
        worst = float((distance / (first + second)).max())
        raise ValueError(f"limb out of reach: {worst:.3f} of its length")
    along = span / distance[:, None]
    part = (first**2 - second**2 + distance**2) / (2 * distance)
    height = np.sqrt(np.maximum(first**2 - part**2, 0.0))
    side = (
        toward - along * (along @ toward if toward.ndim == 1 else (along * toward).sum(1))[:, None]
    )
    side = side / np.linalg.norm(side, axis=1, keepdims=True)
    return np.asarray(root + along * part[:, None] + side * height[:, None])


def _at_least(values: Floats, least: Floats | float, soft: Floats) -> Floats:
    """Values (n,) kept above `least`, rounding the corner over about `soft`."""
    over = values - least
    return np.asarray(least + (over + np.sqrt(over**2 + soft**2)) / 2)


def _end_and_rate(values: Floats) -> tuple[float, float]:
    """Last value and its rate per second, from three values DT apart (second order)."""
    return float(values[2]), float((3 * values[2] - 4 * values[1] + values[0]) / (2 * DT))
