"""From a motion (joint centres over time) to the turn of every joint of the skinned body."""

import numpy as np

from tests.rendered import arms
from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.motion import Motion
from tests.rendered.trunk import turn_y, turn_z

LEFT = np.array([0.0, 1.0, 0.0])


def frame(along: Floats, hinge: Floats) -> Floats:
    """Right-handed frames (..., 3, 3) with columns: along a bone, its hinge, their cross."""
    a = along / np.linalg.norm(along, axis=-1, keepdims=True)
    h = hinge - a * (a * hinge).sum(axis=-1, keepdims=True)
    h = h / np.linalg.norm(h, axis=-1, keepdims=True)
    return np.stack([a, h, np.cross(a, h)], axis=-1)


def carried(rest_along: Floats, rest_hinge: Floats, along: Floats, hinge: Floats) -> Floats:
    """Rotations (n, 3, 3) that carry a bone from rest to where it points now."""
    return frame(along, hinge) @ frame(rest_along, rest_hinge).T


def skeleton(body: Body, motion: Motion) -> tuple[Floats, Floats]:
    """Rotations (n, 21, 3, 3) from rest and joint positions (n, 21, 3) m of the whole body."""
    n = len(motion.t)
    rotations = np.zeros((n, len(body.joint_names), 3, 3))
    positions = np.zeros((n, len(body.joint_names), 3))
    at = body.index
    trunk = motion.trunk
    positions[:, at("pelvis")] = trunk.mid_hips
    rotations[:, at("pelvis")] = trunk.pelvis
    rotations[:, at("lumbar")] = trunk.lumbar
    rotations[:, at("chest")] = trunk.chest
    rotations[:, at("head")] = trunk.head
    rotations[:, at("neck")] = between(trunk.chest, trunk.head)
    for side in SIDES:
        rotations[:, at(f"{side}_clavicle")] = trunk.chest
    for name in ("lumbar", "chest", "neck", "head", "left_clavicle", "right_clavicle"):
        parent = body.parents[at(name)]
        offset = body.rest(name) - body.joints[parent]
        positions[:, at(name)] = positions[:, parent] + rotations[:, parent] @ offset
    for side in SIDES:
        _arm(body, motion.arms[side], side, rotations, positions)
        _leg(body, motion, side, rotations, positions)
    return rotations, positions


def _arm(body: Body, arm: arms.Arm, side: str, rotations: Floats, positions: Floats) -> None:
    shoulder, elbow, wrist = (body.rest(f"{side}_{j}") for j in ("shoulder", "elbow", "wrist"))
    rest_hinge = np.cross(elbow - shoulder, wrist - elbow)
    hinge = np.cross(arm.elbow - arm.shoulder, arm.wrist - arm.elbow)
    upper = carried(elbow - shoulder, rest_hinge, arm.elbow - arm.shoulder, hinge)
    fore = carried(wrist - elbow, rest_hinge, arm.wrist - arm.elbow, hinge)
    for joint, turn, place in (
        ("shoulder", upper, arm.shoulder),
        ("elbow", fore, arm.elbow),
        ("wrist", fore, arm.wrist),
    ):
        rotations[:, body.index(f"{side}_{joint}")] = turn
        positions[:, body.index(f"{side}_{joint}")] = place


def _leg(body: Body, motion: Motion, side: str, rotations: Floats, positions: Floats) -> None:
    leg = motion.legs[side]
    hip, knee, ankle = (body.rest(f"{side}_{j}") for j in ("hip", "knee", "ankle"))
    hinge = np.cross(leg.knee - leg.hip, leg.ankle - leg.knee)
    turns = {
        "hip": carried(knee - hip, LEFT, leg.knee - leg.hip, hinge),
        "knee": carried(ankle - knee, LEFT, leg.ankle - leg.knee, hinge),
        "ankle": turn_z(np.array(leg.yaw_rad)) @ turn_y(-leg.pitch),
        "ball": turn_z(np.array(leg.yaw_rad)) @ turn_y(-leg.toe_pitch),
    }
    offset = body.rest(f"{side}_ball") - ankle
    ball = leg.ankle + turns["ankle"] @ offset
    places = {"hip": leg.hip, "knee": leg.knee, "ankle": leg.ankle, "ball": ball}
    for joint, place in places.items():
        rotations[:, body.index(f"{side}_{joint}")] = turns[joint]
        positions[:, body.index(f"{side}_{joint}")] = place


def between(first: Floats, second: Floats) -> Floats:
    """Half-way rotations (n, 3, 3), for two that are near each other."""
    u, _, vt = np.linalg.svd(first + second)
    return np.asarray(u @ vt)
