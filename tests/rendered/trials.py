"""Captured running, read from `trials/`: where its joints were, and what a body is driven by.

Whose runs these are, under which licence, and what was changed: `trials/README.md`.
"""

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
from scipy.interpolate import interp1d
from scipy.ndimage import binary_dilation, gaussian_filter1d
from scipy.spatial.transform import Rotation

from tests.rendered.body import SIDES, Floats, Ints

Flags = npt.NDArray[np.bool_]
FOLDER = Path(__file__).parent / "trials"
FLAT = (0.25, 0.45)
"""Shares of contact between which a foot is taken to lie flat; common practice, no source."""
FEET = (("heel", "mt1", "mt5"), ("foot1", "foot2", "foot3", "foot4"))
"""Markers that show how a foot turns: on the whole foot, or on the heel alone."""
TOE_OUT_DEG = 6.0
"""Where the markers sit on the heel alone, they do not tell where the foot points."""
ASTRAY_M, HARMONICS = (0.006, 0.015), 8
"""Markers of a foot that lie so far from their own pattern (RMS), or from the ankle, are not its
own; there the foot turns as in its mean stride, of so many harmonics."""
PLANE_S, PLANE_MOST_DEG = 0.03, 25.0
"""A knee that is nearly straight does not tell which way it bends: smoothed, and so far at most."""


@dataclass(frozen=True)
class Leg:
    """One leg over n frames: unit vectors (n, 3) down thigh and shank, which way the knee bends
    about the line from hip to ankle (rad, + to the left of forward), foot pitch (+ toe up) and yaw
    (+ to the left) (rad)."""

    thigh: Floats
    shank: Floats
    knee_way: Floats
    pitch: Floats
    yaw: Floats


@dataclass(frozen=True)
class Trial:
    """A run of one person. Axes (forward, left, up), forward against the belt; m, rad, s.

    `mid_hips` (n, 3); `pelvis` (n, 3): yaw (+ to the left), tilt (+ forward, about its mean), list
    (+ left side up). `leg_m`: hip to knee to ankle. `forces`: contacts are from a force plate.
    `toe_out_seen`: the markers told where the feet point.
    """

    name: str
    at_s: Floats
    joints: dict[str, Floats]
    sides: tuple[str, ...]
    contact_s: Floats
    toe_off_s: Floats
    mid_hips: Floats
    pelvis: Floats
    legs: dict[str, Leg]
    leg_m: float
    belt_mps: float
    forces: bool
    toe_out_seen: bool


@lru_cache(maxsize=8)
def load_trial(name: str) -> Trial:
    """Read a trial by its name, as `trials/README.md` lists them."""
    with np.load(FOLDER / f"{name}.npz") as kept:
        names = [str(joint) for joint in kept["joints"]]
        first = kept["first_tenths_mm"].astype(np.int64)
        changes = kept["speed_changes"].T.reshape(-1, len(names), 3).astype(np.int64)
        speeds = np.cumsum(np.concatenate([first[1:] - first[:1], changes]), axis=0)
        places = np.concatenate([first[:1], first[:1] + np.cumsum(speeds, axis=0)]) / 1e4
        step_s = float(kept["step_s"])
        contact_s, toe_off_s = kept["contact_s"].astype(float), kept["toe_off_s"].astype(float)
        sides = tuple("left" if side == "l" else "right" for side in kept["contact_side"].tolist())
    places = np.stack([places[..., 0], -places[..., 2], places[..., 1]], axis=-1)
    at_s = np.arange(len(places), dtype=np.float64) * step_s
    standing = {
        side: _within(at_s, contact_s, toe_off_s, [s == side for s in sides]) for side in SIDES
    }
    index = {f"{'left' if n[-1] == 'l' else 'right'}_{n[:-2]}": i for i, n in enumerate(names)}
    velocity = np.gradient(places, step_s, axis=0)
    heel = "heel" if "left_heel" in index else "foot1"
    back = np.mean([velocity[standing[s], index[f"{s}_{heel}"]].mean(axis=0) for s in SIDES], 0)
    places = places @ Rotation.from_euler("z", np.arctan2(back[1], -back[0])).as_matrix().T
    joints = {n: places[:, i] for n, i in index.items()}
    mid = (joints["left_hip"] + joints["right_hip"]) / 2
    mine = {side: contact_s[[s == side for s in sides]] for side in SIDES}
    phases = {
        side: interp1d(on, np.arange(len(on)), fill_value="extrapolate")(at_s)
        for side, on in mine.items()
    }
    legs = {side: _leg(joints, side, standing[side], phases[side], at_s[1]) for side in SIDES}
    return Trial(
        name,
        at_s,
        joints,
        sides,
        contact_s,
        toe_off_s,
        mid,
        _pelvis(joints),
        legs,
        float(np.mean([_bone(joints, s, "hip", "knee") + _bone(joints, s, "knee", "ankle")
                       for s in SIDES])),
        float(np.hypot(back[0], back[1])),
        name.startswith("rbds"),
        heel == "heel",
    )  # fmt: skip


def _within(at_s: Floats, on_s: Floats, off_s: Floats, mine: list[bool]) -> Ints:
    """Frames in which a foot lies flat."""
    inside = np.zeros(len(at_s), dtype=bool)
    for on, off in zip(on_s[mine], off_s[mine], strict=True):
        share = (at_s - on) / (off - on)
        inside |= (share > FLAT[0]) & (share < FLAT[1])
    return np.flatnonzero(inside)


def _bone(joints: dict[str, Floats], side: str, first: str, second: str) -> float:
    apart = joints[f"{side}_{first}"] - joints[f"{side}_{second}"]
    return float(np.linalg.norm(apart, axis=1).mean())


def _pelvis(joints: dict[str, Floats]) -> Floats:
    """Yaw, tilt and list (n, 3). Markers do not sit evenly, so each is counted from its mean."""
    line = joints["left_hip"] - joints["right_hip"]
    yaw = np.arctan2(-line[:, 0], line[:, 1])
    listing = np.arctan2(line[:, 2], np.hypot(line[:, 0], line[:, 1]))
    tilt = np.zeros_like(yaw)
    if "left_asis" in joints:
        front, back = (joints[f"left_{n}"] + joints[f"right_{n}"] for n in ("asis", "psis"))
        way = front - back
        tilt = -np.arctan2(way[:, 2], np.hypot(way[:, 0], way[:, 1]))
    angles = np.stack([yaw, tilt, listing], axis=1)
    return np.asarray(angles - angles.mean(axis=0))


def _leg(joints: dict[str, Floats], side: str, standing: Ints, phase: Floats, step_s: float) -> Leg:
    hip, knee, ankle = (joints[f"{side}_{n}"] for n in ("hip", "knee", "ankle"))
    thigh, shank = unit(knee - hip), unit(ankle - knee)
    ahead, left = across(ankle - hip)
    out = knee - (hip + ankle) / 2
    way = (out * ahead).sum(axis=1) + 1j * (out * left).sum(axis=1)
    way = gaussian_filter1d(way * np.abs(way), PLANE_S / step_s)
    most = np.radians(PLANE_MOST_DEG)
    return Leg(
        thigh, shank, np.clip(np.angle(way), -most, most), *_foot(joints, side, standing, phase)
    )


def across(down: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors (n, 3) square to a line (n, 3) that points down: ahead and to the left."""
    along = unit(down)
    left = unit(np.cross(along, np.array([1.0, 0.0, 0.0])))
    left = left * np.sign(left[:, [1]])
    ahead = np.cross(left, -along)
    return ahead * np.sign(ahead[:, [0]]), left


def _foot(
    joints: dict[str, Floats], side: str, standing: Ints, phase: Floats
) -> tuple[Floats, ...]:
    """Pitch and yaw (n,) rad of a foot, its turn from how it lies on the belt."""
    markers = next(names for names in FEET if f"{side}_{names[0]}" in joints)
    places = np.stack([joints[f"{side}_{name}"] for name in markers], axis=1)
    if len(markers) == 3:  # a fourth, so that the plane is not all that is known
        places = np.concatenate([places, joints[f"{side}_ankle"][:, None]], axis=1)
    from_ankle = np.linalg.norm(places.mean(axis=1) - joints[f"{side}_ankle"], axis=1)
    places = places - places.mean(axis=1, keepdims=True)
    flat = np.median(places[standing], axis=0)
    turns = turned(flat, places)
    off = places - np.einsum("nab,mb->nma", turns, flat)
    astray = np.sqrt((off**2).sum(axis=2).mean(axis=1)) > ASTRAY_M[0]
    astray |= np.abs(from_ankle - np.median(from_ankle)) > ASTRAY_M[1]
    # Only a cluster on the heel is one stiff pattern.
    astray = binary_dilation(astray, iterations=2) & (markers[0] != "heel")
    out = np.radians(TOE_OUT_DEG) * (1 if side == "left" else -1)
    if markers[0] == "heel":
        ball = (joints[f"{side}_mt1"] + joints[f"{side}_mt5"]) / 2 - joints[f"{side}_heel"]
        out = float(np.arctan2(*ball[standing].mean(axis=0)[[1, 0]]))
    turns = turns @ Rotation.from_euler("z", out).as_matrix()
    # Yaw about the upright, then roll, then pitch: pitch may pass the upright, roll does not.
    yaw = np.arctan2(-turns[:, 0, 1], turns[:, 1, 1])
    roll = np.arcsin(np.clip(turns[:, 2, 1], -1, 1))
    ahead = np.cos(yaw) * turns[:, 0, 0] + np.sin(yaw) * turns[:, 1, 0]
    pitch = np.unwrap(np.arctan2(turns[:, 2, 0] / np.cos(roll), ahead))
    yaw = (yaw + np.pi / 2) % np.pi - np.pi / 2 if astray.any() else np.unwrap(yaw)
    return tuple(_filled(angle, astray, phase) for angle in (pitch, yaw))


def _filled(angle: Floats, astray: Flags, phase: Floats) -> Floats:
    """An angle (n,) with the astray frames put in from the foot's mean stride."""
    if not astray.any():
        return angle
    wrapped = phase % 1.0
    columns = np.stack(
        [f(2 * np.pi * k * wrapped) for k in range(HARMONICS) for f in (np.cos, np.sin)], axis=1
    )
    mean = columns @ np.linalg.lstsq(columns[~astray], angle[~astray], rcond=None)[0]
    frames = np.arange(len(angle))
    rest = np.interp(frames, frames[~astray], (angle - mean)[~astray])
    return np.where(astray, mean + rest, angle)


def turned(pattern: Floats, places: Floats) -> Floats:
    """Rotations (n, 3, 3) that lay a pattern (m, 3) best on places (n, m, 3), both about 0: by the
    singular values of their products (Kabsch 1976, Acta Crystallographica A32)."""
    left, _, right = np.linalg.svd(np.einsum("nma,mb->nab", places, pattern))
    mirrored = np.ones((len(places), 3))
    mirrored[:, 2] = np.linalg.det(left @ right)
    return np.asarray((left * mirrored[:, None]) @ right)


def unit(v: Floats) -> Floats:
    """Vectors (..., 3) of length 1."""
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))
