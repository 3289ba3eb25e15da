"""Raw readings from the mean stride and one step's own departure from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from live.measures import arms
from live.measures.events import ANKLE, HEEL, TOE, EventPhases
from live.measures.scale import Scale
from live.measures.standing import TYPICAL_SHANK_DEG, QuietStanding
from live.scene.geometry import bend_deg, from_vertical_deg, pitch_deg
from live.stride.fourier import TWO_PI
from live.stride.mean_stride import EARS, MeanStride
from live.stride.model import StrideModel
from live.stride.sample import RIGID
from shared.flow import FloatArray, Side, View
from shared.landmarks import Landmark as Lm
from shared.units import NS_PER_S

OWN_STEP_SHARE: Final = 0.5
"""How much of a single step's departure from the mean stride is believed."""
NEAR_S: Final = 0.07
"""Frames this near to an instant speak for it."""
STANCE_POINTS: Final = 24
FOOT_SHARE: Final = 0.3
"""How much of the foot's pitch is believed in the ankle's bend: the landmarks tip a foot that lies
flat on the belt by some 8 degrees more than the picture does (rendered tuning cases)."""
KNEE: Final = {Side.LEFT: Lm.LEFT_KNEE, Side.RIGHT: Lm.RIGHT_KNEE}
HIP: Final = {Side.LEFT: Lm.LEFT_HIP, Side.RIGHT: Lm.RIGHT_HIP}
PERCENT: Final = 100.0
HEAD_AND_SHOULDERS: Final = RIGID[:5]
"""They tell the body's way up and down better than the hips with them do, from the side (where dark
clothes take up to a third of it from these) and from behind; not in front, where they come nearer
as the trunk bows (drawn captured runners, second and invented gait)."""


@dataclass(frozen=True, slots=True)
class Scene:
    """All that a reading needs to know of the present moment."""

    model: StrideModel
    mean: MeanStride
    phases: EventPhases
    scale: Scale
    forward: float
    """+1 when the runner faces right in the picture (side view)."""
    to_right: float
    """+1 where the runner's right is right in the picture (from behind)."""
    sides_sure: bool = True
    """Whether left and right are sure to be what the mean stride calls so."""
    standing: QuietStanding | None = None
    """How the runner stood before the run, where that was seen."""

    def stance(self, side: Side) -> FloatArray:
        """Phases from contact to toe-off of one foot."""
        span = (self.phases.toe_off[side] - self.phases.contact[side]) % TWO_PI
        return self.phases.contact[side] + np.linspace(0.0, span, STANCE_POINTS)


def own_departure(scene: Scene, at_ns: int) -> FloatArray:
    """(33, 2) px by which the frames around an instant lie off the mean stride, shrunk."""
    total = np.full(33, 1e-6)
    moved = np.zeros((33, 2))
    scale2 = (0.08 * scene.model.leg_px) ** 2
    for sample in reversed(scene.model.samples):
        away_s = abs(sample.captured_ns - at_ns) / NS_PER_S
        if sample.captured_ns < at_ns - NEAR_S * NS_PER_S:
            break
        if away_s > NEAR_S or sample.residual is None:
            continue
        trust = sample.weight * (1.0 - away_s / NEAR_S)
        trust = trust / (1.0 + (sample.residual**2).sum(axis=1) / scale2)
        total += trust
        moved += trust[:, None] * sample.residual
    return np.asarray(OWN_STEP_SHARE * moved / total[:, None])


def at_contact(scene: Scene, side: Side, at_ns: int) -> dict[str, float]:
    """Side view, the instant of contact; lengths in px."""
    phase = np.array([scene.phases.contact[side]])
    own = own_departure(scene, at_ns)
    body = scene.mean.at(phase)[0] + own
    hip, knee, ankle = body[HIP[side]], body[KNEE[side]], body[ANKLE[side]]
    # Half from the contact itself, half from the furthest reach shortly before it, which an
    # error in the contact's time does not touch; the way between them differs little.
    reach = float((scene.forward * scene.mean.all_round[:, ANKLE[side], 0]).max())
    reach += scene.forward * float(own[ANKLE[side], 0])
    return {
        "strike_ahead": (scene.forward * float(ankle[0]) + reach) / 2.0,
        "shank_angle_at_contact": -float(from_vertical_deg(ankle, knee, scene.forward)),
        "knee_flexion_at_contact": float(bend_deg(hip, knee, ankle)),
        "trunk_lean": _trunk_lean(scene),
        "vertical_excursion": scene.mean.travel_px(HEAD_AND_SHOULDERS),
    }


def _trunk_lean(scene: Scene) -> float:
    curves = scene.mean.all_round
    shoulders = (curves[:, Lm.LEFT_SHOULDER] + curves[:, Lm.RIGHT_SHOULDER]) / 2.0
    return float(from_vertical_deg(np.zeros(2), shoulders, scene.forward).mean())


def over_stance(scene: Scene, side: Side) -> dict[str, float]:
    """Side view, a whole stance."""
    body = scene.mean.at(scene.stance(side))
    knee, ankle = body[:, KNEE[side]], body[:, ANKLE[side]]
    shank = from_vertical_deg(ankle, knee, scene.forward)
    foot = pitch_deg(body[:, HEEL[side]], body[:, TOE[side]], scene.forward)
    off = scene.phases.toe_off[side] + np.linspace(-0.6, 0.6, 25)
    around = scene.mean.at(off)
    thigh = from_vertical_deg(around[:, KNEE[side]], around[:, HIP[side]], scene.forward)
    stood = scene.standing
    # A flat foot is a flat foot: the shank alone tells how this body's ankle is bent in standing.
    neutral = TYPICAL_SHANK_DEG if stood is None or stood.shank_deg is None else stood.shank_deg
    return {
        "knee_flexion_peak": sum(_most_knee_bend(scene, foot) for foot in Side) / len(Side),
        "ankle_dorsiflexion_peak": float((shank + FOOT_SHARE * foot).max()) - neutral,
        "hip_extension_peak": float(thigh.max()),
    }


def _most_knee_bend(scene: Scene, side: Side) -> float:
    body = scene.mean.at(scene.stance(side))
    return float(bend_deg(body[:, HIP[side]], body[:, KNEE[side]], body[:, ANKLE[side]]).max())


def across(scene: Scene, side: Side, from_ns: int, to_ns: int) -> dict[str, float]:
    """From behind or in front, a whole stance; lengths in px."""
    theta = scene.stance(side)
    view = View.FRONT if scene.to_right < 0.0 else View.BEHIND
    toward = scene.to_right * (1.0 if side is Side.RIGHT else -1.0)
    body = scene.mean.at(theta)
    shoulders = (body[:, Lm.LEFT_SHOULDER] + body[:, Lm.RIGHT_SHOULDER]) / 2.0
    lean = from_vertical_deg(np.zeros(2), shoulders, toward)
    found = {
        "trunk_side_lean": float(lean.mean()),
        "step_width": _step_width(scene),
        "vertical_excursion": scene.mean.travel_px(_upright(scene.mean, view)),
    }
    if view is View.FRONT:  # from behind the trunk hides the hands
        found["arm_crossing"] = _crossing(scene, side)
    else:  # in front the hands swing before the hips, and the picture shows their way
        path = toward * scene.mean.hips_at(theta)
        own = OWN_STEP_SHARE * _own_drift(scene, toward, from_ns, to_ns)
        path = path + own * np.linspace(0.0, 1.0, STANCE_POINTS)
        found["pelvic_shift"] = float(path.max() - path[0])
    return found


def _upright(mean: MeanStride, view: View) -> NDArray[np.int_]:
    """The landmarks that tell the body's way up and down, from behind or in front."""
    if view is not View.FRONT:
        return HEAD_AND_SHOULDERS
    return EARS if mean.shoulders_hidden else RIGID


def _own_drift(scene: Scene, toward: float, from_ns: int, to_ns: int) -> float:
    """Sideways departure of one stance from the mean, px per stance, as a line.

    A straight line, since the runner's slow drift on the belt would bend anything freer.
    """
    margin = NS_PER_S // 20
    near = [s for s in scene.model.samples if from_ns - margin <= s.captured_ns <= to_ns + margin]
    if len(near) < 4:
        return 0.0
    at = np.array([(s.captured_ns - from_ns) / (to_ns - from_ns) for s in near])
    own = np.array([s.root[0] for s in near])
    own = toward * (own - scene.mean.root_at(np.array([s.theta for s in near]))[:, 0])
    return float(np.polyfit(at, own, 1)[0])


def _crossing(scene: Scene, side: Side) -> float:
    """Most that the wrist goes past the middle of the shoulders, px, + past it."""
    leg_px = scene.scale.leg_to_floor_px
    return float(arms.across(scene.mean, scene.phases, side, scene.to_right, leg_px).max())


def _step_width(scene: Scene) -> float:
    """Ankle at mid-stance to the other ankle at its mid-stance, px, + apart."""
    x = {}
    for foot in Side:
        theta = scene.stance(foot)[STANCE_POINTS // 3 : 2 * STANCE_POINTS // 3]
        curve = scene.mean.at(theta)[:, ANKLE[foot], 0] + scene.mean.root_at(theta)[:, 0]
        x[foot] = float(curve.mean())
    return scene.to_right * (x[Side.RIGHT] - x[Side.LEFT])
