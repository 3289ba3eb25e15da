"""Pelvis, trunk and head of the runner over time: where the body is and how it turns."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.interpolate import CubicHermiteSpline

from tests.rendered.body import Floats
from tests.rendered.params import RunnerParams
from tests.rendered.timeline import Timeline, deviation, pulse, side_values

G = 9.81
SHIFT_PEAK = 0.36  # share of a step at which the pelvis is furthest over the standing leg
DROP_PEAK = 0.30  # most drop a little before mid-stance; from memory
TABLE = 2048


def turn_x(a: Floats) -> Floats:
    """Rotations (..., 3, 3) about the forward axis: + lifts the left side."""
    return _turn(a, 1, 2)


def turn_y(a: Floats) -> Floats:
    """Rotations (..., 3, 3) about the left axis: + pitches forward (up goes forward)."""
    return _turn(a, 2, 0)


def turn_z(a: Floats) -> Floats:
    """Rotations (..., 3, 3) about the up axis: + turns to the left."""
    return _turn(a, 0, 1)


def _turn(a: Floats, i: int, j: int) -> Floats:
    a = np.asarray(a, dtype=float)
    out = np.zeros((*a.shape, 3, 3))
    out[..., [0, 1, 2], [0, 1, 2]] = 1.0
    c, s = np.cos(a), np.sin(a)
    out[..., i, i], out[..., j, j] = c, c
    out[..., i, j], out[..., j, i] = -s, s
    return out


@lru_cache(maxsize=256)
def vertical_table(step_s: float, contact_share: float, force_rise: float) -> Floats:
    """Height of the body over one step (TABLE + 1,) m, 0 at contact.

    Ballistic in flight. In stance the ground force is s^force_rise (1 - s) over the share s of
    the contact, scaled to carry body weight over the whole step: a small exponent stops the fall
    early, as the impact of a running shoe does, and lets the body leave higher than it landed.
    """
    p = np.linspace(0, 1, TABLE + 1)
    s = np.clip(p / contact_share, 0, 1)
    force = s**force_rise * (1 - s)
    acceleration = G * force / force.mean() - G
    dt = step_s / TABLE
    speed = np.concatenate([[0.0], np.cumsum((acceleration[1:] + acceleration[:-1]) / 2 * dt)])
    height = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * dt)])
    return np.asarray(height - p * height[-1])


@dataclass(frozen=True)
class Trunk:
    """Moving frames, each for n times: mid-hips (n, 3) m and rotations (n, 3, 3)."""

    mid_hips: Floats
    pelvis: Floats
    lumbar: Floats
    chest: Floats
    head: Floats


@dataclass(frozen=True)
class Solved:
    """What the parameters leave open, found so that the asked-for measures come out."""

    hip_height_m: float = 0.85
    force_rise: float = 0.3
    height_scale: float = 1.0  # mid-hips travel up and down less than the body's whole mass
    chest_pitch_deg: float = 8.0


def wander(t: Floats, seed: int, size_m: float, loop_s: float) -> Floats:
    """Slow drift about the belt's middle (n, 2) m: forward and left, periodic if looped."""
    rng = np.random.default_rng(seed + 1000)
    out = np.zeros((len(t), 2))
    for k in (1, 2, 3):
        angle = rng.uniform(0, 2 * np.pi, 2)
        rate = k / (loop_s if loop_s else 7.3)
        out += size_m / k * np.sin(2 * np.pi * rate * t[:, None] + angle) * (1.0, 0.6)
    return out


def drift(params: RunnerParams, t: Floats) -> Floats:
    """How far the runner has drifted forward (n,) m by the drift_back happenings (negative)."""
    out = np.zeros_like(t)
    for happening in params.happenings:
        if happening.kind == "drift_back":
            share = np.clip((t - happening.from_s) / (happening.to_s - happening.from_s), 0, 1)
            out -= happening.amount_m * share * share * (3 - 2 * share)
    return out


@lru_cache(maxsize=16)
def _toward_the_leg(
    params: RunnerParams, timeline: Timeline
) -> tuple[CubicHermiteSpline, CubicHermiteSpline, CubicHermiteSpline]:
    """Pelvic shift (m), pelvic drop and trunk side lean (deg) over phase, + for left stance."""
    toward = np.array([-1.0 if s == "right" else 1.0 for s in timeline.sides])
    dev = timeline.deviations
    shift = side_values(timeline, params.pelvic_shift_m) + dev["pelvic_shift_m"]
    drop = side_values(timeline, params.pelvic_drop_deg) + dev["pelvic_drop_deg"]
    side_lean = side_values(timeline, params.trunk_side_lean_deg)
    return (
        pulse(toward * shift, SHIFT_PEAK),
        pulse(toward * drop, DROP_PEAK),
        pulse(toward * side_lean, DROP_PEAK),
    )


def move(params: RunnerParams, solved: Solved, timeline: Timeline, t: Floats) -> Trunk:
    """The trunk at times t (n,) s, while running."""
    phase = timeline.phase(t)
    right = np.cos(np.pi * (phase - timeline.parity("right")))  # 1 at right, -1 at left contact
    shifted, dropped, tipped = _toward_the_leg(params, timeline)
    across = shifted(phase)
    listing, tipping = np.radians(dropped(phase)), np.radians(tipped(phase))

    step_s = 60.0 / params.cadence_spm
    table = vertical_table(step_s, timeline.contact_share, solved.force_rise)
    grid = np.linspace(0, 1, TABLE + 1)
    bounce = solved.height_scale * (1 + deviation(timeline, "bounce", t))
    height = np.interp(phase % 1.0, grid, table) * bounce + solved.hip_height_m

    loop_s = params.loop_steps * step_s
    slow = wander(t, params.seed, 0.008 * params.variability, loop_s)
    surge = 0.007 * np.sin(2 * np.pi * (phase + 0.12))  # brakes in early stance, then drives on
    drifted = drift(params, t)
    mid_hips = np.stack([slow[:, 0] + surge + drifted, slow[:, 1] + across, height], axis=1)

    lean_wobble = deviation(timeline, "lean_deg", t)
    bob = 1.2 * np.cos(2 * np.pi * (phase - 0.25))  # trunk pitches most in mid-stance
    pitch = np.radians(solved.chest_pitch_deg + bob + lean_wobble)
    yaw = np.radians(params.pelvic_rotation_deg) * right
    chest_yaw = -np.radians(params.thorax_rotation_deg) * right
    tilt = np.full_like(pitch, np.radians(params.pelvic_tilt_deg))
    # Toward the left is a turn about forward by a negative angle.
    pelvis = turn_z(yaw) @ turn_y(tilt) @ turn_x(listing)
    chest = turn_z(chest_yaw) @ turn_y(pitch) @ turn_x(-tipping)
    lumbar = (
        turn_z((yaw + chest_yaw) / 2) @ turn_y((tilt + pitch) / 2) @ turn_x((listing - tipping) / 2)
    )
    head = turn_y(np.full_like(pitch, np.radians(params.head_pitch_deg)) + 0.2 * (pitch - tilt))
    return Trunk(mid_hips, pelvis, lumbar, chest, head)
