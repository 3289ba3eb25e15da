"""Trunk and arms of the second gait: waves of the stride, none of them shared with the first one.

What leans toward the standing leg is + for the left; the stride is counted from right contacts.
"""

import numpy as np
from scipy.interpolate import CubicSpline

from tests.rendered.arms import Arm, shoulder
from tests.rendered.body import Body, Floats
from tests.rendered.params import RunnerParams
from tests.rendered.spring_mass import Mass
from tests.rendered.spring_recipe import ArmRecipe, Recipe
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Trunk, drift, turn_x, turn_y, turn_z, wander

WANDERS = ("shift", "list", "turn", "lean", "arm")
WANDER = {"shift": 0.10, "list": 0.10, "turn": 0.08, "lean": 0.4, "arm": 0.05}


class Clock:
    """Times in strides, smooth, whole at each right contact; and what differs from step to step."""

    def __init__(self, params: RunnerParams, timeline: Timeline) -> None:
        at = timeline.contact_s
        self._strides = CubicSpline(at, (np.arange(len(at)) - timeline.parity("right")) / 2)
        rng = np.random.default_rng([1990, params.seed])
        self._wander = {}
        for name in WANDERS:
            # Half of what a step differs by stays for the next one.
            raw = rng.standard_normal(len(at) + 1)
            own = (raw[1:] + 0.5 * raw[:-1]) / np.hypot(1.0, 0.5)
            size = WANDER[name] * params.variability
            self._wander[name] = CubicSpline(at, size * np.clip(own, -2, 2))

    def strides(self, t: Floats) -> Floats:
        return np.asarray(self._strides(t))

    def wander(self, name: str, t: Floats) -> Floats:
        return np.asarray(self._wander[name](t))


def move(
    params: RunnerParams, recipe: Recipe, clock: Clock, mass: Mass, hip_height_m: float, t: Floats
) -> Trunk:
    """The trunk at times t (n,) s."""
    strides = clock.strides(t)
    surge = recipe.surge_share * mass.surge(t)
    slow = wander(t, params.seed + 500, 0.010 * params.variability, 0.0)
    wave = recipe.shift_m
    # A wave that lags by half a stride is one for the left leg's stance.
    third = recipe.shift_third_m * wave.first * np.cos(6 * np.pi * (strides - wave.lag))
    across = -(1 + clock.wander("shift", t)) * (wave.at(strides) + third)
    height = hip_height_m + recipe.hips_share * mass.height(t)
    height += recipe.hips_wave_m.at(strides)
    mid_hips = np.stack([slow[:, 0] + surge + drift(params, t), slow[:, 1] + across, height], 1)

    listing = -np.radians(recipe.list_deg.at(strides)) * (1 + clock.wander("list", t))
    yaw = np.radians(recipe.turn_deg.at(strides)) * (1 + clock.wander("turn", t))
    tilt = np.radians(recipe.tilt_deg.at(strides))
    chest_yaw = -np.radians(recipe.thorax_turn_deg.at(strides)) * (1 + clock.wander("turn", t))
    pitch = np.radians(recipe.thorax_pitch_deg.at(strides) + clock.wander("lean", t))
    tipping = np.radians(recipe.thorax_list_deg.at(strides))
    pelvis = turn_z(yaw) @ turn_y(tilt) @ turn_x(listing)
    chest = turn_z(chest_yaw) @ turn_y(pitch) @ turn_x(tipping)
    lumbar = (
        turn_z((yaw + chest_yaw) / 2) @ turn_y((tilt + pitch) / 2) @ turn_x((listing + tipping) / 2)
    )
    nod = np.radians(recipe.head_pitch_deg) + 0.3 * (pitch - pitch.mean())
    head = turn_z(0.15 * chest_yaw) @ turn_y(nod)
    return Trunk(mid_hips, pelvis, lumbar, chest, head)


def arm(recipe: ArmRecipe, clock: Clock, body: Body, trunk: Trunk, side: str, t: Floats) -> Arm:
    """One arm at times t (n,) s: forward as the other side's foot lands, in its own plane."""
    # Half a stride after the other side's contact is one's own.
    strides = clock.strides(t) + (0.0 if side == "left" else 0.5)
    size = 1 + clock.wander("arm", t)
    wave = recipe.raised
    raised = np.radians(wave.mean + (wave.at(strides) - wave.mean) * size)
    bend, turned = np.radians(recipe.bend.at(strides)), np.radians(recipe.fore_in.at(strides))
    out = np.radians(recipe.out_deg)
    outward = 1.0 if side == "left" else -1.0
    upper = _direction(raised, np.full_like(t, outward * out))
    fore = _direction(raised + bend, -outward * turned)
    plane = trunk.chest @ turn_z(np.array(-outward * np.radians(recipe.elbow_in_deg)))
    origin = shoulder(body, trunk, side)
    upper_m = float(np.linalg.norm(body.rest(f"{side}_elbow") - body.rest(f"{side}_shoulder")))
    fore_m = float(np.linalg.norm(body.rest(f"{side}_wrist") - body.rest(f"{side}_elbow")))
    elbow = origin + upper_m * np.einsum("nab,nb->na", plane, upper)
    return Arm(origin, elbow, elbow + fore_m * np.einsum("nab,nb->na", plane, fore))


def _direction(raised: Floats, left: Floats) -> Floats:
    """Unit vectors (n, 3): hanging, raised forward, then turned to the left."""
    return np.stack(
        [
            np.sin(raised) * np.cos(left),
            np.sin(left),
            -np.cos(raised) * np.cos(left),
        ],
        axis=1,
    )
