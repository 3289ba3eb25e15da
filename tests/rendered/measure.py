"""Truth from the gait itself: every measure of every step, read off the exact motion.

Nothing here looks at frames: joints are sampled at 1 kHz from the model, events come from the
timeline. Definitions follow the measure catalogue (axes forward, right, up).
"""

from typing import Any

import numpy as np

from tests.rendered import arms
from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.gait import Gait, Motion
from tests.rendered.legs import Leg
from tests.rendered.pose import skeleton
from tests.rendered.truth import JOINTS

RATE_HZ = 1000.0
FLIP = np.array([1.0, -1.0, 1.0])  # (forward, left, up) <-> (forward, right, up)


def file_joints(body: Body, motion: Motion) -> Floats:
    """The 20 named joints (n, 20, 3) m in the file's axes."""
    rotations, positions = skeleton(body, motion)
    return joints_of(body, rotations, positions)


def joints_of(body: Body, rotations: Floats, positions: Floats) -> Floats:
    """The 20 named joints (n, 20, 3) m in the file's axes, from a posed skeleton."""
    out = np.zeros((len(positions), len(JOINTS), 3))
    ankle = body.rest("left_ankle")
    nose = body.skin.vertices[_nose(body)]
    for i, name in enumerate(JOINTS):
        side, _, joint = name.partition("_")
        if joint == "heel":
            local = np.array([body.foot.heel[0], 0.0, body.foot.heel[1]])
            at = body.index(f"{side}_ankle")
            out[:, i] = positions[:, at] + rotations[:, at] @ local
        elif joint == "toe":
            local = np.array([body.foot.toe[0] - body.foot.ball[0], 0.0, 0.0])
            at = body.index(f"{side}_ball")
            out[:, i] = positions[:, at] + rotations[:, at] @ local
        elif name in ("head", "nose"):
            at = body.index("head")
            middle = body.skin.vertices[body.skin.weights[:, at] > 0.5].mean(axis=0)
            local = (nose if name == "nose" else middle) - body.joints[at]
            out[:, i] = positions[:, at] + rotations[:, at] @ local
        else:
            out[:, i] = positions[:, body.index(name)]
    assert ankle.shape == (3,)
    return out * FLIP


def _nose(body: Body) -> int:
    head = body.skin.weights[:, body.index("head")] > 0.5
    near = head & (body.skin.vertices[:, 2] > body.eyes[0, 2] - 0.07)
    return int(np.flatnonzero(near)[np.argmax(body.skin.vertices[near, 0])])


def events(gait: Gait, duration_s: float) -> list[dict[str, Any]]:
    """Contacts and toe-offs within the clip, in time order."""
    timeline = gait.timeline
    found = []
    for kind, times in (("contact", timeline.contact_s), ("toe_off", timeline.toe_off_s)):
        for i, time in enumerate(times):
            if gait.params.stand_s + gait.params.start_s * bool(gait.params.stand_s) <= time:
                if -1e-9 <= time < duration_s - 1e-9:
                    found.append(
                        {
                            "kind": kind,
                            "side": timeline.sides[i],
                            "time_s": round(max(float(time), 0.0), 6),
                            "step": i,
                        }
                    )
    return sorted(found, key=lambda e: e["time_s"])


def _knee_midline(leg: Leg, side: str) -> Floats:
    """Knee inward of the hip-to-ankle line seen from behind (n,) m."""
    down = (leg.hip[:, 2] - leg.knee[:, 2]) / (leg.hip[:, 2] - leg.ankle[:, 2])
    line = leg.hip[:, 1] + (leg.ankle[:, 1] - leg.hip[:, 1]) * down
    return np.asarray((leg.knee[:, 1] - line) * (-1 if side == "left" else 1))


def steps(gait: Gait, duration_s: float) -> list[dict[str, Any]]:
    """Every measure of every step that lies wholly within the clip."""
    timeline, params = gait.timeline, gait.params
    from_s = params.stand_s + params.start_s if params.stand_s else 0.0
    out: list[dict[str, Any]] = []
    for i, side in enumerate(timeline.sides[:-1]):
        start, off = float(timeline.contact_s[i]), float(timeline.toe_off_s[i])
        after = float(timeline.contact_s[i + 1])
        if start < from_s - 1e-9 or after > duration_s + 1e-9 or i == 0:
            continue
        out.append(_step(gait, i, side, start, off, after, from_s))
    return out


def _step(
    gait: Gait, i: int, side: str, start: float, off: float, after: float, from_s: float
) -> dict[str, Any]:
    timeline, body = gait.timeline, gait.body
    t = np.linspace(start, after, max(int((after - start) * RATE_HZ), 50))
    motion = gait.motion(t)
    leg = motion.legs[side]
    stance = t <= off
    angle_lean = gait.legs.shank_lean(leg.hip, leg.ankle)
    bend = np.degrees(gait.legs.polar(leg.hip, leg.ankle)[1])
    flex = np.degrees(leg.pitch + angle_lean)
    toward = 1.0 if side == "left" else -1.0
    mid = motion.trunk.mid_hips
    across = (mid[:, 1] - mid[0, 1]) * toward
    hips = motion.legs["left"].hip - motion.legs["right"].hip
    drop = np.degrees(np.arctan2(-toward * -hips[:, 2], hips[:, 1]))
    line = (motion.arms["left"].shoulder + motion.arms["right"].shoulder) / 2 - mid
    lean = np.degrees(np.arctan2(line[:, 0], line[:, 2]))
    tip = np.degrees(np.arctan2(toward * line[:, 1], line[:, 2]))
    thigh = np.degrees(np.arctan2(leg.hip[:, 0] - leg.knee[:, 0], leg.hip[:, 2] - leg.knee[:, 2]))
    flat = np.flatnonzero(stance & (leg.pitch >= -1e-6) & (t <= off))
    before = float(timeline.contact_s[i - 1])
    advance = float(gait.legs.anchor[i, 0] - gait.legs.anchor[i - 1, 0])
    has_previous = before >= from_s - 1e-9
    previous = "left" if side == "right" else "right"
    width = (gait.legs.anchor[i, 1] - gait.legs.anchor[i - 1, 1]) * toward
    record: dict[str, Any] = {"index": i, "side": side}
    values = {
        "contact_s": start,
        "toe_off_s": off,
        "step_time_s": start - before if has_previous else None,
        "step_length_m": (
            gait.params.belt_speed_mps * (start - before) + advance if has_previous else None
        ),
        "contact_time_s": off - start,
        "flight_time_s": after - off,
        "strike_ahead_m": float(leg.ankle[0, 0] - mid[0, 0]),
        "ankle_ahead_of_own_hip_m": float(leg.ankle[0, 0] - leg.hip[0, 0]),
        "shank_angle_deg": float(-np.degrees(angle_lean[0])),
        "foot_angle_deg": float(np.degrees(leg.pitch[0])),
        "knee_flexion_contact_deg": float(bend[0]),
        "knee_flexion_peak_deg": float(bend[stance & (t < start + 0.7 * (off - start))].max()),
        "ankle_dorsiflexion_peak_deg": float(flex[stance].max()),
        "hip_extension_peak_deg": _hip_extension(gait, side, off),
        "heel_off_pct": float(100 * (t[flat[-1]] - start) / (off - start)),
        "pelvic_shift_m": float(across[stance].max()),
        "pelvic_drop_deg": float(drop[stance].max()),
        "trunk_lean_deg": float(lean.mean()),
        "trunk_side_lean_deg": float(tip[stance].mean()),
        "vertical_excursion_m": float(np.ptp(mid[:, 2])),
        "step_width_m": float(width) if previous else None,
        "knee_midline_m": float(_knee_midline(leg, side)[stance].max()),
        "furthest_forward_before_contact_s": _reach_before(gait, side, start),
    }
    assert thigh.shape == t.shape and body.leg_length_m > 0
    record.update({k: None if v is None else round(float(v), 5) for k, v in values.items()})
    return record


def _hip_extension(gait: Gait, side: str, off: float) -> float:
    """Thigh behind the upright, most about toe-off (deg)."""
    leg = gait.motion(np.linspace(off - 0.08, off + 0.08, 161)).legs[side]
    back = np.arctan2(leg.hip[:, 0] - leg.knee[:, 0], leg.hip[:, 2] - leg.knee[:, 2])
    return float(np.degrees(back).max())


def _reach_before(gait: Gait, side: str, contact: float) -> float:
    """How long before contact the ankle is furthest ahead of mid-hips (s)."""
    t = contact - np.arange(0, 0.15, 0.001)
    motion = gait.motion(t)
    ahead = motion.legs[side].ankle[:, 0] - motion.trunk.mid_hips[:, 0]
    return float(contact - t[int(np.argmax(ahead))])


def strides(gait: Gait, duration_s: float) -> list[dict[str, Any]]:
    """Each arm over each stride of its own side."""
    timeline, params = gait.timeline, gait.params
    from_s = params.stand_s + params.start_s if params.stand_s else 0.0
    out = []
    for i, side in enumerate(timeline.sides[:-2]):
        start, end = float(timeline.contact_s[i]), float(timeline.contact_s[i + 2])
        if start < from_s - 1e-9 or end > duration_s + 1e-9:
            continue
        motion = gait.motion(np.linspace(start, end, 300, endpoint=False))
        centre = (motion.arms["left"].shoulder + motion.arms["right"].shoulder) / 2
        wrist = motion.arms[side].wrist
        direction = arms.path_direction_deg(wrist, centre, side)
        across = (wrist - centre)[:, 1] * (-1 if side == "left" else 1)
        flat = (wrist - centre)[:, :2] - (wrist - centre)[:, :2].mean(axis=0)
        main = np.linalg.svd(flat, full_matrices=False)[2][0]
        out.append(
            {
                "side": side,
                "from_s": round(start, 6),
                "to_s": round(end, 6),
                "arm_direction_deg": round(abs(direction), 2),
                "arm_crossing_m": round(float(across.max()), 4),
                "arm_range_m": round(float(np.ptp(flat @ main)), 4),
            }
        )
    return out


def means(
    step_list: list[dict[str, Any]], stride_list: list[dict[str, Any]]
) -> dict[str, dict[str, float]]:
    """Mean of every measure by side and over both."""
    out: dict[str, dict[str, float]] = {}
    for side in (*SIDES, "both"):
        values: dict[str, float] = {}
        for records in (step_list, stride_list):
            mine = [r for r in records if side in (r["side"], "both")]
            for key in records[0] if records else ():
                if key in ("index", "side", "contact_s", "toe_off_s", "from_s", "to_s"):
                    continue
                found = [r[key] for r in mine if r[key] is not None]
                if found:
                    values[key] = round(float(np.mean(found)), 5)
        out[side] = values
    return out
