"""How gaits move about the contact, told alike for captured runners and drawn ones, as a table.

    python -m tests.rendered.descriptors

Times are ms after contact unless they say before; everything is low-passed (second order
Butterworth, forward and back), at 6 Hz unless it says 12. A foot is the mean of ankle, heel and
toe, its speed that toward the back, as a share of the belt's.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.signal import butter, filtfilt

from tests.rendered import chance, measure, spring_cases, wide_cases
from tests.rendered.arms import path_direction_deg
from tests.rendered.body import SIDES, Floats
from tests.rendered.clip import Case, runner_of
from tests.rendered.motion import Runner
from tests.rendered.strides import CONTACT_S, FOLDER
from tests.rendered.trunk import G
from tests.rendered.truth import JOINTS

RATE_HZ = 150.0
SECONDS = 6.5
FINE_S = 0.001
BEFORE_S, AFTER_S = 0.12, 0.40
NAMES = (
    "force_passes_weight_ms",  # 12 Hz
    "body_falls_fastest_ms",
    "body_passes_07g_ms",
    "body_lowest_share",
    "ankle_ahead_before_ms",
    "foot_half_speed_ms",
    "foot_07_speed_ms",
    "landing_speed_share",  # 12 Hz
    "speed_share_50ms_before",
    "height_50ms_before_m",
    "height_at_contact_m",
    "foot_angle_deg",
    "knee_peak_ms",
    "pelvis_turn_deg",
)
ARMS = ("wrist_inward_deg", "elbow_inward_deg", "thorax_turn_deg")
CAPTURED_ARMS = {
    # Both arms of the one captured runner who has them, and a stride each: Fukuchi and others
    # (2017), the laboratory's open teaching data, CC BY 4.0; overground.
    "wrist_inward_deg": (7.0, 28.0),
    "elbow_inward_deg": (-18.0, 1.0),
}


@dataclass(frozen=True)
class Movement:
    """A run: times (n,) s, `joints` (n, 3) m each (forward, right, up), contacts, the belt."""

    t: Floats
    joints: dict[str, Floats]
    contacts: tuple[tuple[float, str], ...]
    contact_s: float
    belt_mps: float


def captured(name: str) -> Movement:
    """A captured runner; the belt's speed is that of the feet that stand on it."""
    with np.load(FOLDER / f"{name}.npz") as kept:
        metres = kept["tenths_mm"][..., [0, 2, 1]] / 1e4
        t = np.arange(len(metres), dtype=float) * float(kept["step_s"])
        joints = {
            f"{ {'l': 'left', 'r': 'right'}[str(joint)[-1]] }_{str(joint)[:-2]}": metres[:, i]
            for i, joint in enumerate(kept["joints"])
        }
        sides = ["left" if side == "l" else "right" for side in kept["contact_side"]]
        contacts = tuple(zip(kept["contact_s"].tolist(), sides, strict=True))
    speeds = []
    for at, side in contacts:
        flat = (t > at + 0.3 * CONTACT_S[name]) & (t < at + 0.55 * CONTACT_S[name])
        if flat.sum() > 2:
            x = (joints[f"{side}_heel"] + joints[f"{side}_toe"])[flat, 0] / 2
            speeds.append(-np.polyfit(t[flat], x, 1)[0])
    return Movement(t, joints, contacts, CONTACT_S[name], float(np.median(speeds)))


def drawn(case: Case) -> Movement:
    """A drawn runner, from the motion itself and without standing before."""
    case = replace(case, runner=replace(case.runner, stand_s=0.0), duration_s=SECONDS)
    gait = runner_of(case)
    return moved(gait, SECONDS)


def moved(gait: Runner, seconds: float) -> Movement:
    t = np.arange(0, seconds, 1 / RATE_HZ)
    metres = measure.file_joints(gait.body, gait.motion(t))
    line = gait.timeline
    contacts = tuple(
        (float(at), side)
        for at, side in zip(line.contact_s, line.sides, strict=True)
        if 0 <= at < seconds
    )
    return Movement(
        t,
        {name: metres[:, i] for i, name in enumerate(JOINTS)},
        contacts,
        float((line.toe_off_s - line.contact_s).mean()),
        gait.params.belt_speed_mps,
    )


def descriptors(run: Movement) -> dict[str, float]:
    """Each of NAMES, and of ARMS where there are arms, over all contacts of a run."""
    rate = 1 / float(np.median(np.diff(run.t)))
    grid = np.arange(-BEFORE_S, AFTER_S, FINE_S)
    inside = [
        (at, side) for at, side in run.contacts if run.t[0] + 0.5 < at < run.t[-1] - 0.5 - AFTER_S
    ]

    def smooth(values: Floats, cut_hz: float) -> Floats:
        b, a = butter(2, cut_hz / (rate / 2))
        return np.asarray(filtfilt(b, a, values, axis=0))

    def mean(by_side: dict[str, Floats]) -> Floats:
        """(len(grid),) about the contacts, the curve of each one's own side."""
        curves = [np.interp(at + grid, run.t, by_side[side]) for at, side in inside]
        return np.asarray(np.mean(curves, axis=0))

    def first(curve: Floats, least: float, from_s: float) -> float:
        """When (ms) a rising curve passes a value, between samples."""
        k = int(np.flatnonzero((grid > from_s) & (curve >= least))[0])
        part = (least - curve[k - 1]) / (curve[k] - curve[k - 1])
        return float(1000 * (grid[k - 1] + part * FINE_S))

    near = (grid > -0.06) & (grid < 0.10)
    mid = (run.joints["left_hip"] + run.joints["right_hip"]) / 2
    out = {}
    for cut_hz in (6.0, 12.0):
        up = smooth(mid[:, 2], cut_hz)
        fall = np.gradient(up, run.t)
        falls = mean(dict.fromkeys(SIDES, fall))
        fastest = 1000 * float(grid[near][np.argmin(falls[near])])
        if cut_hz == 12.0:
            out["force_passes_weight_ms"] = fastest
            continue
        out["body_falls_fastest_ms"] = fastest
        pulls = mean(dict.fromkeys(SIDES, np.gradient(fall, run.t)))
        out["body_passes_07g_ms"] = first(pulls, -0.7 * G, -0.05)
        heights = mean(dict.fromkeys(SIDES, up))
        stance = (grid > 0) & (grid < run.contact_s)
        out["body_lowest_share"] = float(grid[stance][np.argmin(heights[stance])] / run.contact_s)
    parts = ("ankle", "heel", "toe")
    feet = {s: np.mean([run.joints[f"{s}_{p}"] for p in parts], axis=0) for s in SIDES}
    ahead = mean({s: smooth(run.joints[f"{s}_ankle"][:, 0] - mid[:, 0], 6.0) for s in SIDES})
    early = grid < 0.01
    out["ankle_ahead_before_ms"] = -1000 * float(grid[early][np.argmax(ahead[early])])
    for cut_hz in (6.0, 12.0):
        back = mean({s: -np.gradient(smooth(f[:, 0], cut_hz), run.t) for s, f in feet.items()})
        back = back / run.belt_mps
        if cut_hz == 12.0:
            out["landing_speed_share"] = float(np.interp(0.0, grid, back))
            continue
        out["foot_half_speed_ms"] = first(back, 0.5, -0.06)
        out["foot_07_speed_ms"] = first(back, 0.7, -0.06)
        out["speed_share_50ms_before"] = float(np.interp(-0.05, grid, back))
    high = mean({s: smooth(f[:, 2], 12.0) for s, f in feet.items()})
    flat_m = float(np.interp(0.35 * run.contact_s, grid, high))
    out["height_50ms_before_m"] = float(np.interp(-0.05, grid, high)) - flat_m
    out["height_at_contact_m"] = float(np.interp(0.0, grid, high)) - flat_m
    angles = {s: _toe_up(run.joints[f"{s}_toe"] - run.joints[f"{s}_heel"]) for s in SIDES}
    pitch = mean(angles)
    out["foot_angle_deg"] = float(
        np.interp(0.0, grid, pitch) - np.interp(0.35 * run.contact_s, grid, pitch)
    )
    bends = {
        s: _below(run.joints[f"{s}_hip"], run.joints[f"{s}_knee"])
        - _below(run.joints[f"{s}_knee"], run.joints[f"{s}_ankle"])
        for s in SIDES
    }
    bend = mean(bends)
    early = (grid > 0) & (grid < 0.7 * run.contact_s)
    out["knee_peak_ms"] = 1000 * float(grid[early][np.argmax(bend[early])])
    out["pelvis_turn_deg"] = _turn(run, inside, "hip")
    if "left_wrist" in run.joints:
        out["thorax_turn_deg"] = _turn(run, inside, "shoulder")
        centre = (run.joints["left_shoulder"] + run.joints["right_shoulder"]) / 2
        for joint in ("wrist", "elbow"):
            out[f"{joint}_inward_deg"] = float(
                np.mean(
                    [
                        path_direction_deg(
                            (run.joints[f"{s}_{joint}"] - centre) * measure.FLIP, np.zeros(3), s
                        )
                        for s in SIDES
                    ]
                )
            )
    return out


def _toe_up(foot: Floats) -> Floats:
    return np.degrees(np.arctan2(foot[:, 2], foot[:, 0]))


def _below(upper: Floats, lower: Floats) -> Floats:
    return np.degrees(np.arctan2(lower[:, 0] - upper[:, 0], upper[:, 2] - lower[:, 2]))


def _turn(run: Movement, contacts: list[tuple[float, str]], joint: str) -> float:
    """Half of the way (deg) that the line between two joints turns about the upright, a stride."""
    line = run.joints[f"right_{joint}"] - run.joints[f"left_{joint}"]
    turned = np.degrees(np.arctan2(line[:, 0], line[:, 1]))
    own = [at for at, side in contacts if side == "right"]
    strides = [turned[(run.t >= a) & (run.t < b)] for a, b in pairwise(own)]
    return float(np.mean([np.ptp(stride) / 2 for stride in strides]))


def spread(cases: Iterable[Case]) -> dict[str, tuple[float, float, float]]:
    """Least, middle and most of each descriptor over drawn cases."""
    found = [descriptors(drawn(case)) for case in cases]
    return {
        name: (
            min(one[name] for one in found),
            float(np.median([one[name] for one in found])),
            max(one[name] for one in found),
        )
        for name in (*NAMES, *ARMS)
    }


def main() -> None:
    runners = {name: descriptors(captured(name)) for name in CONTACT_S}
    gaits = {
        "invented": spread(case for case in chance.CASES if not case.kept_apart),
        "widened": spread(wide_cases.CASES),
        "spring": spread(spring_cases.CASES),
    }
    print("| | " + " | ".join((*runners, *gaits)) + " |")
    print("|---|" + "---|" * (len(runners) + len(gaits)))
    for name in (*NAMES, *ARMS):
        digits = 3 if name.endswith("_m") else 2 if "share" in name else 0
        cells = [f"{one[name]:.{digits}f}" if name in one else "" for one in runners.values()]
        cells += [
            " / ".join(f"{value:.{digits}f}" for value in one[name]) for one in gaits.values()
        ]
        print(f"| {name} | " + " | ".join(cells) + " |")


if __name__ == "__main__":
    main()
