"""The arms: swung about the shoulder, elbow bent, turned inward so far as the gait asks."""

from dataclasses import dataclass

import numpy as np

from tests.rendered.body import Body, Floats
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline, deviation
from tests.rendered.trunk import Trunk, turn_z

REST_SWING_DEG = -14.0  # middle of the upper arm's swing, behind the trunk's line
ABDUCTION_DEG = 17.0


@dataclass(frozen=True)
class Arm:
    """One arm over n times: joint centres (n, 3) m."""

    shoulder: Floats
    elbow: Floats
    wrist: Floats


def shoulder(body: Body, trunk: Trunk, side: str) -> Floats:
    """Shoulder joint centre (n, 3) m, fixed to the chest."""
    return chest_origin(body, trunk) + trunk.chest @ (
        body.rest(f"{side}_shoulder") - body.rest("chest")
    )


def chest_origin(body: Body, trunk: Trunk) -> Floats:
    """Where the chest turns on the lumbar spine (n, 3) m."""
    lumbar = trunk.mid_hips + trunk.pelvis @ (body.rest("lumbar") - body.rest("pelvis"))
    return lumbar + trunk.lumbar @ (body.rest("chest") - body.rest("lumbar"))


def arm(
    params: RunnerParams,
    body: Body,
    timeline: Timeline,
    trunk: Trunk,
    side: str,
    inward_rad: float,
    t: Floats,
) -> Arm:
    """One arm at times t (n,) s: back at its own side's contact, forward at the other's."""
    phase = timeline.phase(t) - timeline.parity(side)
    forward = -np.cos(np.pi * (phase - 0.08))
    size = 1 + deviation(timeline, "arm", t)
    amplitude = np.radians(params.arm_swing_deg.of(side)) / 2
    raised = np.radians(REST_SWING_DEG) + amplitude * size * forward
    bend = np.radians(params.elbow_deg.of(side) + 10.0 * forward)
    outward = 1.0 if side == "left" else -1.0

    out = np.radians(ABDUCTION_DEG)
    upper = np.stack(
        [
            np.sin(raised) * np.cos(out),
            np.full_like(t, outward * np.sin(out)),
            -np.cos(raised) * np.cos(out),
        ],
        axis=1,
    )
    turned_in: Floats = np.full_like(t, np.radians(params.forearm_in_deg.of(side)))
    if params.elbow_direction_deg is not None:
        # The elbow has its own way; the forearm turns in as it goes forward, for the wrist's.
        turned_in += inward_rad * forward
        inward_rad = float(np.radians(params.elbow_direction_deg.of(side)))
    fore = np.stack(
        [
            np.sin(raised + bend) * np.cos(turned_in),
            -outward * np.sin(turned_in),
            -np.cos(raised + bend) * np.cos(turned_in),
        ],
        axis=1,
    )
    # Across the body the arm turns about the upright at the shoulder: hand in, elbow out.
    frame = trunk.chest @ turn_z(np.array(-outward * inward_rad))
    upper = np.einsum("nab,nb->na", frame, upper)
    fore = np.einsum("nab,nb->na", frame, fore)
    origin = shoulder(body, trunk, side)
    upper_m = float(np.linalg.norm(body.rest(f"{side}_elbow") - body.rest(f"{side}_shoulder")))
    fore_m = float(np.linalg.norm(body.rest(f"{side}_wrist") - body.rest(f"{side}_elbow")))
    elbow = origin + upper_m * upper
    return Arm(origin, elbow, elbow + fore_m * fore)


def path_direction_deg(wrist: Floats, centre: Floats, side: str) -> float:
    """Main axis of the wrist's path seen from above, relative to mid-shoulder.

    0 = fore and aft, + = inward as it goes forward, -90..90.
    """
    flat = (wrist - centre)[:, :2]
    flat = flat - flat.mean(axis=0)
    values, vectors = np.linalg.eigh(flat.T @ flat)
    x, y = vectors[:, int(np.argmax(values))]
    inward = -y if side == "left" else y
    angle = np.degrees(np.arctan2(inward, x))
    return float((angle + 90) % 180 - 90)
