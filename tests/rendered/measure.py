"""Truth from the gait itself: every measure of every step, read off the exact motion.

Nothing here looks at frames: joints are sampled at up to 1 kHz from the model, events come from the
timeline. Definitions follow the measure catalogue (axes forward, right, up).
"""

from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.rendered import arms
from tests.rendered.body import SIDES, Body, Floats
from tests.rendered.extras import FADE_S
from tests.rendered.legs import Leg
from tests.rendered.motion import Motion, Runner
from tests.rendered.pose import skeleton
from tests.rendered.truth import JOINTS

RATE_HZ, ARM_RATE_HZ = 1000.0, 400.0
FLIP = np.array([1.0, -1.0, 1.0])  # (forward, left, up) <-> (forward, right, up)


def file_joints(body: Body, motion: Motion) -> Floats:
    """The 20 named joints (n, 20, 3) m in the file's axes."""
    rotations, positions = skeleton(body, motion)
    return joints_of(body, rotations, positions)


def joints_of(body: Body, rotations: Floats, positions: Floats) -> Floats:
    """The 20 named joints (n, 20, 3) m in the file's axes, from a posed skeleton."""
    out = np.zeros((len(positions), len(JOINTS), 3))
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
    return np.asarray(out * FLIP)


def _nose(body: Body) -> int:
    head = body.skin.weights[:, body.index("head")] > 0.5
    near = head & (body.skin.vertices[:, 2] > body.eyes[0, 2] - 0.07)
    return int(np.flatnonzero(near)[np.argmax(body.skin.vertices[near, 0])])


def running_span(gait: Runner, duration_s: float) -> tuple[float, float]:
    """From when until when (s) the runner runs: after the start-up, before a fall."""
    params = gait.params
    start = params.stand_s + params.start_s if params.stand_s else 0.0
    falls = [h.from_s for h in params.happenings if h.kind == "fall"]
    return start, min([duration_s, *falls])


def events(gait: Runner, duration_s: float) -> list[dict[str, Any]]:
    """Contacts and toe-offs within the clip, in time order."""
    timeline = gait.timeline
    start, end = running_span(gait, duration_s)
    found = []
    for kind, times in (("contact", timeline.contact_s), ("toe_off", timeline.toe_off_s)):
        for i, time in enumerate(times):
            if start - 1e-9 <= time < end - 1e-9:
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


@dataclass(frozen=True)
class Curves:
    """One motion as the curves that the measures are read from, each (n,), angles in deg.

    By side: ankle ahead of mid-hips and of its own hip (m), shank lean (+ knee ahead of ankle),
    foot pitch, knee bend, ankle bend, thigh behind the upright, knee inward (m).
    """

    t: Floats
    mid_hips: Floats
    hip_line: Floats
    lean: Floats
    tip: Floats
    ahead: dict[str, Floats]
    ahead_of_hip: dict[str, Floats]
    shank: dict[str, Floats]
    pitch: dict[str, Floats]
    bend: dict[str, Floats]
    flex: dict[str, Floats]
    thigh_back: dict[str, Floats]
    knee_in: dict[str, Floats]


def curves(gait: Runner, t: Floats) -> Curves:
    """The curves at times t (n,) s."""
    motion = gait.motion(t)
    legs, mid = motion.legs, motion.trunk.mid_hips
    hips = legs["left"].hip - legs["right"].hip
    line = (motion.arms["left"].shoulder + motion.arms["right"].shoulder) / 2 - mid
    shank = {s: np.degrees(gait.shank_lean(g)) for s, g in legs.items()}
    pitch = {s: np.degrees(g.pitch) for s, g in legs.items()}
    return Curves(
        t,
        mid,
        np.degrees(np.arctan2(hips[:, 2], hips[:, 1])),
        np.degrees(np.arctan2(line[:, 0], line[:, 2])),
        np.degrees(np.arctan2(line[:, 1], line[:, 2])),
        {s: g.ankle[:, 0] - mid[:, 0] for s, g in legs.items()},
        {s: g.ankle[:, 0] - g.hip[:, 0] for s, g in legs.items()},
        shank,
        pitch,
        {s: np.degrees(gait.knee_bend(g)) for s, g in legs.items()},
        {s: pitch[s] + shank[s] for s in legs},
        {
            s: np.degrees(np.arctan2(g.hip[:, 0] - g.knee[:, 0], g.hip[:, 2] - g.knee[:, 2]))
            for s, g in legs.items()
        },
        {s: _knee_midline(g, s) for s, g in legs.items()},
    )


def steps(gait: Runner, duration_s: float) -> list[dict[str, Any]]:
    """Every measure of every step that lies wholly within the running part of the clip."""
    timeline = gait.timeline
    from_s, to_s = running_span(gait, duration_s)
    whole = curves(gait, np.arange(from_s - 0.2, to_s + 0.2, 1 / RATE_HZ))
    running = [
        i
        for i in range(1, len(timeline.sides) - 1)
        if timeline.contact_s[i] >= from_s - 1e-9 and timeline.contact_s[i + 1] <= to_s + 1e-9
    ]
    landed = curves(gait, timeline.contact_s[running])
    return [_step(gait, i, whole, landed, k, from_s) for k, i in enumerate(running)]


def _step(
    gait: Runner, i: int, whole: Curves, landed: Curves, k: int, from_s: float
) -> dict[str, Any]:
    timeline, side = gait.timeline, gait.timeline.sides[i]
    start, off = float(timeline.contact_s[i]), float(timeline.toe_off_s[i])
    before, after = float(timeline.contact_s[i - 1]), float(timeline.contact_s[i + 1])
    toward = 1.0 if side == "left" else -1.0
    t = whole.t
    step, stance = (t >= start) & (t < after), (t >= start) & (t <= off)
    early = stance & (t < start + 0.7 * (off - start))
    flat = t[stance & (whole.pitch[side] >= gait.flat_from_deg)]
    about_off = np.abs(t - off) < 0.08
    reach = (t > start - 0.15) & (t <= start)
    anchors = gait.anchors
    has_previous = before >= from_s - 1e-9
    step_time = start - before
    advance = float(anchors[i, 0] - anchors[i - 1, 0])
    record: dict[str, Any] = {"index": i, "side": side}
    values = {
        "contact_s": start,
        "toe_off_s": off,
        "step_time_s": step_time if has_previous else None,
        "step_length_m": (
            gait.params.belt_speed_mps * step_time + advance if has_previous else None
        ),
        "contact_time_s": off - start,
        "flight_time_s": after - off,
        "strike_ahead_m": landed.ahead[side][k],
        "ankle_ahead_of_own_hip_m": landed.ahead_of_hip[side][k],
        "shank_angle_deg": -landed.shank[side][k],
        "foot_angle_deg": landed.pitch[side][k],
        "knee_flexion_contact_deg": landed.bend[side][k],
        "knee_flexion_peak_deg": whole.bend[side][early].max(),
        "ankle_dorsiflexion_peak_deg": whole.flex[side][stance].max(),
        "hip_extension_peak_deg": whole.thigh_back[side][about_off].max(),
        "heel_off_pct": 100 * (flat[-1] - start) / (off - start) if len(flat) else None,
        "pelvic_shift_m": (toward * (whole.mid_hips[stance, 1] - landed.mid_hips[k, 1])).max(),
        "pelvic_drop_deg": (toward * whole.hip_line[stance]).max(),
        "trunk_lean_deg": whole.lean[step].mean(),
        "trunk_side_lean_deg": (toward * whole.tip[stance]).mean(),
        "vertical_excursion_m": np.ptp(whole.mid_hips[step, 2]),
        "step_width_m": (anchors[i, 1] - anchors[i - 1, 1]) * toward,
        "knee_midline_m": whole.knee_in[side][stance].max(),
        "furthest_forward_before_contact_s": (
            start - t[reach][int(np.argmax(whole.ahead[side][reach]))]
        ),
    }
    record.update({k: None if v is None else round(float(v), 5) for k, v in values.items()})
    return record


def strides(gait: Runner, duration_s: float) -> list[dict[str, Any]]:
    """Each arm over each stride of its own side."""
    timeline = gait.timeline
    from_s, to_s = running_span(gait, duration_s)
    gestures = [h for h in gait.params.happenings if h.kind in ("hand_up", "face_wipe")]
    t = np.arange(from_s, to_s, 1 / ARM_RATE_HZ)
    motion = gait.motion(t)
    centre = (motion.arms["left"].shoulder + motion.arms["right"].shoulder) / 2
    out = []
    for i, side in enumerate(timeline.sides[:-2]):
        start, end = float(timeline.contact_s[i]), float(timeline.contact_s[i + 2])
        if start < from_s - 1e-9 or end > to_s + 1e-9:
            continue
        if any(
            h.side == side and start < h.to_s + FADE_S and end > h.from_s - FADE_S for h in gestures
        ):
            continue
        now = (t >= start) & (t < end)
        wrist = (motion.arms[side].wrist - centre)[now]
        across = wrist[:, 1] * (-1 if side == "left" else 1)
        flat = wrist[:, :2] - wrist[:, :2].mean(axis=0)
        main = np.linalg.svd(flat, full_matrices=False)[2][0]
        direction = arms.path_direction_deg(wrist, np.zeros(3), side)
        out.append(
            {
                "side": side,
                "from_s": round(start, 6),
                "to_s": round(end, 6),
                "arm_direction_deg": round(direction, 2),
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
