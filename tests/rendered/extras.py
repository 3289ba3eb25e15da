"""What a runner does besides running: stand before the start, raise a hand, wipe the face, fall.

Each is a second motion that the running fades into and out of. Directions of bones are mixed, not
positions, so that limbs keep their lengths. Drifting back on the belt is part of the gait itself.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from tests.rendered import arms as arm_parts
from tests.rendered.arms import Arm
from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.legs import Leg, two_bones
from tests.rendered.motion import Motion
from tests.rendered.trunk import Trunk, turn_y, turn_z

if TYPE_CHECKING:
    from tests.rendered.gait import Gait

FADE_S = 0.45  # how long an arm takes to its gesture and back
FALL_S = 0.7
# Upper arm and forearm directions (forward, outward, up) in the chest's axes.
GESTURES = {
    "hand_up": ((0.25, 0.35, 0.95), (0.10, 0.05, 1.0)),
    "face_wipe": ((0.80, 0.30, -0.35), (-0.35, -0.50, 0.85)),
    "hang": ((0.02, 0.16, -1.0), (0.22, 0.06, -1.0)),
    "reach": ((0.75, 0.20, -0.75), (0.70, 0.0, -0.75)),
}
STANCE_HALF_M = 0.09
STAND_BEND = 0.998  # hip to ankle, share of the straight leg
# Kneeling after a fall, in shares of leg length: mid-hips' height, ankles behind the hips, ankles'
# height.
KNEEL_UP, KNEEL_BACK, KNEEL_ANKLE = 0.50, 0.36, 0.12


def smooth(x: Floats) -> Floats:
    """0 below 0, 1 above 1, smooth between."""
    x = np.clip(x, 0, 1)
    return np.asarray(x * x * (3 - 2 * x))


def applied(gait: Gait, t: Floats) -> Motion:
    """The gait with everything else that was asked for, at times t (n,) s."""
    params, body = gait.params, gait.body
    fall = next((h for h in params.happenings if h.kind == "fall"), None)
    motion = gait.running(t if fall is None else np.minimum(t, fall.from_s + 0.15))
    motion = replace(motion, t=t)
    if fall is not None:
        share = smooth((t - fall.from_s) / FALL_S)
        motion = mixed(body, motion, _kneeling(body, motion), share)
    if params.stand_s > 0:
        share = 1 - smooth((t - params.stand_s) / params.start_s)
        motion = mixed(body, motion, standing(body, t, params.stand_hips_ahead_m), share)
    for happening in params.happenings:
        if happening.kind in ("hand_up", "face_wipe"):
            share = smooth((t - happening.from_s) / FADE_S + 1) * smooth(
                (happening.to_s - t) / FADE_S + 1
            )
            gesture = _arm(body, motion.trunk, happening.side, happening.kind)
            mixed_arm = _mixed_arm(body, motion, gesture, happening.side, share)
            motion = replace(motion, arms={**motion.arms, happening.side: mixed_arm})
    return motion


def _arm(body: Body, trunk: Trunk, side: str, gesture: str) -> Arm:
    """An arm held in a gesture, moving with the chest."""
    outward = np.array([1.0, 1.0 if side == "left" else -1.0, 1.0])
    upper, fore = (np.array(d) * outward / np.linalg.norm(d) for d in GESTURES[gesture])
    return _arm_along(
        body,
        arm_parts.shoulder(body, trunk, side),
        trunk.chest @ upper,
        trunk.chest @ fore,
        side,
    )


def _arm_along(body: Body, shoulder: Floats, upper: Floats, fore: Floats, side: str) -> Arm:
    upper_m = np.linalg.norm(body.rest(f"{side}_elbow") - body.rest(f"{side}_shoulder"))
    fore_m = np.linalg.norm(body.rest(f"{side}_wrist") - body.rest(f"{side}_elbow"))
    elbow = shoulder + upper_m * upper
    return Arm(shoulder, elbow, elbow + fore_m * fore)


def _mixed_arm(body: Body, motion: Motion, other: Arm, side: str, share: Floats) -> Arm:
    """An arm part of the way from the motion's to another, its bones at full length."""
    mine = motion.arms[side]
    directions = [
        _unit(_lerp(_unit(a1 - a0), _unit(b1 - b0), share))
        for a0, a1, b0, b1 in (
            (mine.shoulder, mine.elbow, other.shoulder, other.elbow),
            (mine.elbow, mine.wrist, other.elbow, other.wrist),
        )
    ]
    shoulder = arm_parts.shoulder(body, motion.trunk, side)
    return _arm_along(body, shoulder, directions[0], directions[1], side)


def mixed(body: Body, first: Motion, second: Motion, share: Floats) -> Motion:
    """A motion that is `first` where share is 0 and `second` where it is 1."""
    if not share.any():
        return first
    a, b = first.trunk, second.trunk
    trunk = Trunk(
        _lerp(a.mid_hips, b.mid_hips, share),
        *(
            _mixed_turn(getattr(a, n), getattr(b, n), share)
            for n in ("pelvis", "lumbar", "chest", "head")
        ),
    )
    legs = {}
    for side in SIDES:
        p, q = first.legs[side], second.legs[side]
        hip = trunk.mid_hips + trunk.pelvis @ (body.rest(f"{side}_hip") - body.rest("pelvis"))
        ankle = hip + _lerp(p.ankle - p.hip, q.ankle - q.hip, share)
        bend = _lerp(_knee_way(p), _knee_way(q), share)
        knee = two_bones(hip, ankle, body.thigh_m, body.shank_m, bend)
        knee = np.where((share > 0)[:, None], knee, p.knee)
        pitch = p.pitch + (q.pitch - p.pitch) * share
        toe_pitch = p.toe_pitch + (q.toe_pitch - p.toe_pitch) * share
        on_belt = np.where(share > 0, 0.0, p.on_belt)
        legs[side] = Leg(hip, knee, ankle, pitch, toe_pitch, p.yaw_rad, on_belt)
    moved = replace(first, trunk=trunk, legs=legs)
    arms = {s: _mixed_arm(body, moved, second.arms[s], s, share) for s in SIDES}
    return replace(moved, arms=arms)


def _knee_way(leg: Leg) -> Floats:
    """Which way the knee points from the middle of hip and ankle (n, 3)."""
    return _unit(leg.knee - (leg.hip + leg.ankle) / 2)


def standing(body: Body, t: Floats, hips_ahead_m: float = 0.0) -> Motion:
    """Quiet standing, arms hanging, with a little sway; mid-hips ahead of the ankles as asked."""
    n = len(t)
    reach = STAND_BEND * (body.thigh_m + body.shank_m)
    half = body.rest("left_hip")[1]
    off2 = (half - STANCE_HALF_M) ** 2 + hips_ahead_m**2
    up = np.sqrt(reach**2 - off2) + body.foot.ankle_height_m
    sway = 0.004 * np.stack([np.sin(1.9 * t), np.sin(1.3 * t)])
    hips = np.stack([hips_ahead_m + sway[0], sway[1], np.full(n, up)], axis=1)
    level = turn_y(np.full(n, np.radians(2.0)))
    trunk = Trunk(hips, level, level, level, turn_y(np.zeros(n)))
    legs = {}
    for side in SIDES:
        outward = 1.0 if side == "left" else -1.0
        hip = hips + level @ (body.rest(f"{side}_hip") - body.rest("pelvis"))
        foot = (0.0, outward * STANCE_HALF_M, body.foot.ankle_height_m)
        ankle = np.broadcast_to(np.array(foot), (n, 3)).copy()
        knee = two_bones(hip, ankle, body.thigh_m, body.shank_m, np.array([1.0, 0.0, 0.0]))
        zero = np.zeros(n)
        legs[side] = Leg(hip, knee, ankle, zero, zero, np.radians(6.0) * outward, np.ones(n))
    return Motion(t, trunk, legs, {s: _arm(body, trunk, s, "hang") for s in SIDES})


def _kneeling(body: Body, running: Motion) -> Motion:
    """On the knees where the runner went down, leaning forward, arms to the belt."""
    n = len(running.t)
    leg_m = body.leg_length_m
    hips = running.trunk.mid_hips.copy()
    hips[:, 2] = KNEEL_UP * leg_m
    hips[:, 0] -= 0.10
    pelvis, chest = (turn_y(np.full(n, np.radians(a))) for a in (25.0, 55.0))
    lumbar, head = (turn_y(np.full(n, np.radians(a))) for a in (40.0, 25.0))
    trunk = Trunk(hips, pelvis, lumbar, chest, head)
    legs = {}
    for side in SIDES:
        hip = hips + pelvis @ (body.rest(f"{side}_hip") - body.rest("pelvis"))
        ankle = hip.copy()
        ankle[:, 0] -= KNEEL_BACK * leg_m
        ankle[:, 2] = KNEEL_ANKLE * leg_m
        way = turn_z(np.array(0.0)) @ np.array([0.8, 0.0, -0.6])
        knee = two_bones(hip, ankle, body.thigh_m, body.shank_m, way)
        down = np.full(n, np.radians(-75.0))
        yaw = running.legs[side].yaw_rad
        legs[side] = Leg(hip, knee, ankle, down, np.radians(-30.0) + 0 * down, yaw, np.zeros(n))
    return Motion(running.t, trunk, legs, {s: _arm(body, trunk, s, "reach") for s in SIDES})


def _unit(v: Floats) -> Floats:
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))


def _lerp(a: Floats, b: Floats, share: Floats) -> Floats:
    return np.asarray(a + (b - a) * share[:, None])


def _mixed_turn(a: Floats, b: Floats, share: Floats) -> Floats:
    """Rotations (n, 3, 3) part of the way between two that are not opposite."""
    u, _, vt = np.linalg.svd(a + (b - a) * share[:, None, None])
    return np.asarray(u @ vt)
