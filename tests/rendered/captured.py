"""A drawn body moved by captured running: pelvis, legs and feet from a trial, the rest invented.

Every direction of thigh, shank and foot is the captured one, put onto the body's own bones; what is
scaled to the body is the way of the mid-hips and the belt's speed. A foot of another shape and a
rigid sole do not lie on the belt by themselves: the leg is drawn up to 3 % shorter or longer for
that, along its own line, so that no angle changes. Trunk, head and arms were not captured. They are
the invented gait's, in phase with the captured contacts.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline, PchipInterpolator

from tests.rendered import arms, gait
from tests.rendered import timeline as steps
from tests.rendered import trunk as trunks
from tests.rendered.body import SIDES, Body, Floats, load_body
from tests.rendered.legs import Leg, forefoot_pitch, rolled, two_bones
from tests.rendered.motion import Motion
from tests.rendered.params import BySide, RunnerParams
from tests.rendered.pose import between
from tests.rendered.timeline import Timeline
from tests.rendered.trials import Flags, Trial, across, load_trial, unit
from tests.rendered.trunk import Solved, Trunk, turn_x, turn_y, turn_z

SINK_M, SOFT_M = 0.012, 0.009
"""The rigid sole goes this far into the belt in mid-stance, as a soft one is pressed together (from
memory), and how softly it stops there."""
TOES_UP_DEG = 20.0
"""In swing the toes of a hanging foot are drawn up so far, to clear the belt; from memory."""
LIFT_M = 0.003
"""How softly a foot that has not left yet is held down."""
STRETCH = 0.03
"""Most that a leg is drawn shorter or longer, of its length."""
BENDS, PRESSES = (-0.08, 0.0, 0.15), (0.05, 0.12, 0.05)
"""When the shoe's forefoot bends as the belt would have it, and when a foot is held down on the
belt: from and to how long after contact that begins, and until how long after toe-off it ends."""
MARGIN_S = 1.0
"""Of a trial there must be this much before and after a clip, for the steps about its ends."""
STANDS = (0.2, 0.65)
"""Shares of contact within which a foot stands; before it lands, after it rolls off."""
FLAT_FROM_DEG = -3.0
TRUE_ALWAYS = (
    "cadence", "belt_speed", "step_length", "knee_flexion_peak", "ankle_dorsiflexion_peak",
    "hip_extension_peak", "vertical_excursion", "pelvic_shift",
)  # fmt: skip
TRUE_BY_FORCE = (
    "contact", "toe_off", "contact_time", "flight_time", "duty_factor", "step_asymmetry",
    "strike_ahead", "shank_angle_at_contact", "foot_angle_at_contact", "knee_flexion_at_contact",
    "step_width",
)  # fmt: skip
"""Measures by their names, whose truth can be judged by: always, and where contacts are from force.
Their values are those of the drawn body."""
SOURCES = {
    "rbds": "Fukuchi RK, Fukuchi CA, Duarte M (2017), PeerJ 5:e3298, CC BY 4.0, changed",
    "ric": "Ferber R and others (2024), Scientific Data, CC BY 4.0, changed",
}


@dataclass(frozen=True)
class Captured:
    """Drives a body by a trial, from `from_s` of it on."""

    trial: str
    from_s: float

    def runner(self, params: RunnerParams, duration_s: float) -> "CapturedRunner":
        """Raises ValueError where the trial is too short."""
        return _runner(self, params, duration_s)


@dataclass(frozen=True, eq=False)
class CapturedRunner:
    """A body in the movement of a trial; `tests.rendered.motion.Runner`."""

    driver: Captured
    params: RunnerParams
    body: Body
    timeline: Timeline
    anchors: Floats
    told: dict[str, Any]
    flat_from_deg: float
    _mover: "_Mover"
    _solved: Solved
    _inward_rad: dict[str, float]

    def shank_lean(self, leg: Leg) -> Floats:
        """Forward lean of the shank (n,) rad, + knee ahead of the ankle, in the side view."""
        return np.asarray(
            np.arctan2(leg.knee[:, 0] - leg.ankle[:, 0], leg.knee[:, 2] - leg.ankle[:, 2])
        )

    def knee_bend(self, leg: Leg) -> Floats:
        """Bend of the knee (n,) rad, 0 = hip, knee and ankle in one line."""
        cosine = (unit(leg.knee - leg.hip) * unit(leg.ankle - leg.knee)).sum(axis=1)
        return np.asarray(np.arccos(np.clip(cosine, -1, 1)))

    def motion(self, t: Floats) -> Motion:
        """The body at times t (n,) s."""
        t = np.asarray(t, dtype=float)
        mid_hips, pelvis = self._mover.pelvis(t)
        invented = trunks.move(self.params, self._solved, self.timeline, t)
        chest = invented.chest
        trunk = Trunk(mid_hips, pelvis, between(pelvis, chest), chest, invented.head)
        return Motion(
            t,
            trunk,
            {s: self._mover.leg(s, t) for s in SIDES},
            {
                s: arms.arm(self.params, self.body, self.timeline, trunk, s, self._inward_rad[s], t)
                for s in SIDES
            },
        )


class _Mover:
    """Pelvis and legs of a body in a trial's movement, at clip times."""

    def __init__(self, trial: Trial, body: Body, params: RunnerParams, from_s: float,
                 duration_s: float) -> None:  # fmt: skip
        self.trial, self.body, self.from_s = trial, body, from_s
        self.scale = (body.thigh_m + body.shank_m) / trial.leg_m
        at = trial.at_s - from_s
        inside = (at >= 0) & (at <= duration_s)
        mid = self.scale * (
            trial.mid_hips - trial.mid_hips[inside].mean(axis=0) * np.array([1.0, 1.0, 0.0])
        )
        self._mid, self._pelvis = CubicSpline(at, mid), CubicSpline(at, trial.pelvis)
        self._tilt = np.radians(params.pelvic_tilt_deg)
        self._legs = {
            side: CubicSpline(at, np.column_stack([g.thigh, g.shank, g.knee_way, g.pitch, g.yaw]))
            for side, g in trial.legs.items()
        }
        self._bending = {side: self._stances(side, *BENDS) for side in SIDES}
        self._pressing = {side: self._stances(side, *PRESSES) for side in SIDES}
        self.up = dict.fromkeys(SIDES, 0.0)
        lows = {side: self._low_at_contact(side, duration_s) for side in SIDES}
        self._raised = -float(np.mean(list(lows.values())))
        self.up = {side: -low - self._raised for side, low in lows.items()}

    def _low_at_contact(self, side: str, duration_s: float) -> float:
        """How high the sole is when the foot meets the belt, on the mean, with nothing done."""
        self._raised = 0.0
        on = self.trial.contact_s[[s == side for s in self.trial.sides]] - self.from_s
        on = on[(on >= 0) & (on <= duration_s)]
        return float(self._as_captured(side, on)[4].mean())

    def _stances(
        self, side: str, rises_s: float, full_s: float, falls_s: float
    ) -> PchipInterpolator:
        """A curve over time that is 1 in stance and 0 in swing: it rises from `rises_s` to `full_s`
        after contact and falls within `falls_s` after toe-off."""
        trial = self.trial
        mine = np.array([s == side for s in trial.sides])
        on, off = trial.contact_s[mine] - self.from_s, trial.toe_off_s[mine] - self.from_s
        knots = np.stack([on + rises_s, on + full_s, off, off + falls_s], axis=1).ravel()
        return PchipInterpolator(knots, np.tile([0.0, 1.0, 1.0, 0.0], len(on)))

    def pelvis(self, t: Floats) -> tuple[Floats, Floats]:
        """Mid-hips (n, 3) m and the pelvis's turn (n, 3, 3)."""
        yaw, tilt, listing = self._pelvis(t).T
        turn = turn_z(yaw) @ turn_y(self._tilt + tilt) @ turn_x(listing)
        return self._mid(t) + np.array([0.0, 0.0, self._raised]), turn

    def _as_captured(self, side: str, t: Floats) -> tuple[Floats, ...]:
        """Hip, thigh and shank (n, 3) m, the splines' rest (n, 3) rad and the sole's lowest point
        (n,) m, with the leg at its own length."""
        body = self.body
        mid_hips, turn = self.pelvis(t)
        hip = mid_hips + turn @ (body.rest(f"{side}_hip") - body.rest("pelvis"))
        values = self._legs[side](t)
        thigh, shank = body.thigh_m * unit(values[:, :3]), body.shank_m * unit(values[:, 3:6])
        pitch = values[:, 7]
        low = (hip + thigh + shank)[:, 2] + self._under(side, t, pitch)[0]
        return hip, thigh, shank, values[:, 6:], low

    def _under(self, side: str, t: Floats, pitch: Floats) -> tuple[Floats, Floats]:
        """The sole's lowest point from the ankle (n,) m, and the forefoot's pitch (n,) rad."""
        foot = self.body.foot
        bend = np.clip(self._bending[side](t), 0, 1)
        up = np.radians(TOES_UP_DEG) * (1 - np.exp(np.minimum(pitch, 0) / np.radians(TOES_UP_DEG)))
        stance = np.where(pitch < 0, forefoot_pitch(pitch), pitch) - pitch
        toe_pitch = pitch + bend * stance + (1 - bend) * up
        heel, ball = rolled(pitch, *foot.heel)[:, 1], rolled(pitch, *foot.ball)[:, 1]
        toe = ball + rolled(toe_pitch, foot.toe[0] - foot.ball[0], 0.0)[:, 1]
        return np.minimum(np.minimum(heel, ball), toe), toe_pitch

    def length(self, side: str, t: Floats) -> Floats:
        """The leg's length (n,) as drawn, 1 = its own."""
        _, thigh, shank, _, low = self._as_captured(side, t)
        raised = low + self.up[side]
        height = SOFT_M * _above((raised + SINK_M) / SOFT_M) - SINK_M
        press = np.clip(self._pressing[side](t), 0, 1)
        height = height - press * LIFT_M * _above(height / LIFT_M)
        share = (height - low) / (thigh + shank)[:, 2]
        return np.asarray(1 + share / (1 + (share / STRETCH) ** 4) ** 0.25)

    def leg(self, side: str, t: Floats) -> Leg:
        """One leg at times t (n,) s."""
        body = self.body
        hip, thigh, shank, rest, _ = self._as_captured(side, t)
        length = self.length(side, t)
        ankle = hip + (thigh + shank) * length[:, None]
        ahead, left = across(ankle - hip)
        way = np.cos(rest[:, [0]]) * ahead + np.sin(rest[:, [0]]) * left
        knee = two_bones(hip, ankle, body.thigh_m * length, body.shank_m * length, way)
        pitch, yaw = rest[:, 1], rest[:, 2]
        toe_pitch = self._under(side, t, pitch)[1]
        return Leg(hip, knee, ankle, pitch, toe_pitch, yaw, self._on_belt(side, t))

    def sole(self, side: str, t: Floats) -> Floats:
        """Heel and ball under the sole (n, 2, 3) m."""
        leg = self.leg(side, t)
        turn = turn_z(np.asarray(leg.yaw_rad)) @ turn_y(-leg.pitch)
        points = (self.body.foot.heel, self.body.foot.ball)
        return np.stack([leg.ankle + turn @ np.array([x, 0.0, z]) for x, z in points], axis=1)

    def sole_height(self, side: str, t: Floats) -> Floats:
        """How high the lowest point of the sole is above the belt (n,) m."""
        leg = self.leg(side, t)
        return leg.ankle[:, 2] + self._under(side, t, leg.pitch)[0]

    def _on_belt(self, side: str, t: Floats) -> Floats:
        trial = self.trial
        out = np.zeros(len(t))
        for on, off, s in zip(trial.contact_s, trial.toe_off_s, trial.sides, strict=True):
            if s == side:
                out[(t >= on - self.from_s) & (t <= off - self.from_s)] = 1.0
        return out


def _above(x: Floats) -> Floats:
    """About x where that is above 0 and 0 where it is below, smooth between."""
    return np.where(x > 30, x, np.log1p(np.exp(np.minimum(x, 30))))


@lru_cache(maxsize=8)
def _runner(driver: Captured, params: RunnerParams, duration_s: float) -> CapturedRunner:
    trial = load_trial(driver.trial)
    if driver.from_s < MARGIN_S or driver.from_s + duration_s + MARGIN_S > trial.at_s[-1]:
        raise ValueError(f"{driver.trial} does not last from {driver.from_s} s for {duration_s} s")
    body = load_body(params.body, params.height_m)
    mover = _Mover(trial, body, params, driver.from_s, duration_s)
    timeline = _timeline(trial, params, driver.from_s)
    within = (timeline.contact_s >= 0) & (timeline.toe_off_s <= duration_s)
    speed, slip = _belt(mover, timeline, within)
    stance_ms = 1000 * (timeline.toe_off_s - timeline.contact_s)[within]
    by_side = [
        float(stance_ms[[s == side for s in np.array(timeline.sides)[within]]].mean())
        for side in SIDES
    ]
    params = replace(
        params,
        belt_speed_mps=round(speed, 4),
        cadence_spm=round(60.0 / float(np.diff(timeline.contact_s[within]).mean()), 3),
        contact_time_ms=BySide(*(round(ms, 1) for ms in by_side)),
    )
    solved, inward = gait.solve_upper_body(params)
    return CapturedRunner(
        driver,
        params,
        body,
        timeline,
        _anchors(mover, timeline, speed),
        _told(driver, mover, timeline, within, slip),
        FLAT_FROM_DEG,
        mover,
        solved,
        inward,
    )


def _timeline(trial: Trial, params: RunnerParams, from_s: float) -> Timeline:
    """The trial's contacts; what trunk and arms differ by from step to step is drawn by chance."""
    contact, toe_off = trial.contact_s - from_s, trial.toe_off_s - from_s
    rng = np.random.default_rng(params.seed)
    deviations = {
        name: np.clip(rng.standard_normal(len(contact)), -steps.MOST_SD, steps.MOST_SD)
        * sd
        * params.variability
        for name, sd in steps.SPREADS
    }
    share = float((toe_off - contact).mean() / np.diff(contact).mean())
    knots = np.stack([contact, toe_off], axis=1).ravel()
    index = np.arange(len(contact))
    phases = np.stack([index, index + share], axis=1).ravel()
    curve = PchipInterpolator(knots, phases, extrapolate=True)
    return Timeline(trial.sides, contact, toe_off, deviations, share, curve)


def _belt(mover: _Mover, timeline: Timeline, within: Flags) -> tuple[float, float]:
    """The belt's speed (m/s) with which standing feet slip least, and how fast they slip (RMS)."""
    shares, dt = np.linspace(*STANDS, 21), 1e-3
    speeds = []
    for i in np.flatnonzero(within):
        on, off = timeline.contact_s[i], timeline.toe_off_s[i]
        t = on + shares * (off - on)
        now, later = (mover.sole(timeline.sides[i], at) for at in (t, t + dt))
        lower = now[..., 2].argmin(axis=1)
        speeds.append(((later - now) / dt)[np.arange(len(t)), lower, 0])
    return float(-np.mean(speeds)), float(np.std(speeds))


def _anchors(mover: _Mover, timeline: Timeline, speed: float) -> Floats:
    """Belt points (n_steps, 2) m under the ankles, seen in the middle of the flat foot's time."""
    middle = timeline.contact_s + 0.35 * (timeline.toe_off_s - timeline.contact_s)
    out = np.zeros((len(middle), 2))
    for side in SIDES:
        mine = np.array([s == side for s in timeline.sides])
        out[mine] = mover.leg(side, middle[mine]).ankle[:, :2]
    out[:, 0] += speed * (middle - timeline.contact_s)
    return out


def touch_s(mover: _Mover, timeline: Timeline, within: Flags) -> tuple[Floats, Floats]:
    """How long after the true contact the drawn sole touches the belt, and how long after the true
    toe-off it leaves it (s), each step."""
    first, last = [], []
    around = np.arange(-0.06, 0.08, 5e-4)
    for i in np.flatnonzero(within):
        side = timeline.sides[i]
        on = mover.sole_height(side, timeline.contact_s[i] + around) <= 0
        off = mover.sole_height(side, timeline.toe_off_s[i] + around) <= 0
        first.append(around[np.argmax(on)])
        last.append(around[len(off) - 1 - np.argmax(off[::-1])])
    return np.array(first), np.array(last)


def _mean_and_sd_ms(found_s: Floats) -> list[float]:
    return [round(1000 * float(found_s.mean()), 1), round(1000 * float(found_s.std()), 1)]


def _told(
    driver: Captured, mover: _Mover, timeline: Timeline, within: Flags, slip: float
) -> dict[str, Any]:
    trial = mover.trial
    first, last = touch_s(mover, timeline, within)
    return {
        "driver": {"kind": "captured", "trial": driver.trial, "from_s": driver.from_s},
        "source": SOURCES[driver.trial.partition("_")[0].rstrip("0123456789")],
        "contacts_from": "force plate, 50 N" if trial.forces else "estimate",
        "not_real": ["trunk", "head", "arms", "height of the feet after contact"],
        "true_measures": [*TRUE_ALWAYS, *(TRUE_BY_FORCE if trial.forces else ())],
        "drawn_touch_after_contact_ms": _mean_and_sd_ms(first),
        "drawn_leave_after_toe_off_ms": _mean_and_sd_ms(last),
        "slip_mps": round(slip, 4),
    }
