"""Signs of foot contact and toe-off in the mean stride, and their blend into one instant."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median
from typing import Final

import numpy as np

from live.harmonics import GRID, PHASES, TWO_PI
from live.meanstride import ALL_ROUND, MeanStride
from live.sample import RIGID
from shared.landmarks import Landmark as Lm
from shared.records import FloatArray, Side, View

STEADY_S: Final = 0.03
"""From behind and in front the signs are small in the picture, so they are steadied first: the
errors by side halve (rendered tuning cases, and an ideal runner whose landmarks tremble)."""
LOWEST_AFTER_FALL_S: Final = {View.BEHIND: 0.14, View.FRONT: 0.06}
"""When a foot is lowest in the picture against the other one, after the body's fastest fall. A foot
looks the lower the nearer it is: from behind that is late in stance (0.11 to 0.28 s on the rendered
tuning cases, 0.03 on a captured run), from in front early (-0.05 to 0.04 s; 0.2 to 0.37 on a
captured walk, whose steps are twice as long). Half a step either way holds all of them."""
FOOT: Final = np.array([Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX])
"""Of the left; the right one's follow each."""
Blend = dict[str, tuple[float, float]]
"""For each sign its weight and how many seconds later the event comes."""
_ACROSS_OFF: Final[Blend] = {"body_rise": (1.0, 0.071)}
CONTACT_BLEND: Final[dict[View, Blend]] = {
    View.SIDE: {
        "reach": (2.0, 0.045),
        "half_speed": (1.0, 0.0135),
        "body_fall": (1.0, -0.008),
    },
    View.BEHIND: {"body_fall": (2.0, -0.001), "knee_up": (1.0, -0.001), "thigh_up": (1.0, -0.008)},
    View.FRONT: {"foot_low": (3.0, -0.0265), "body_fall": (1.0, -0.008)},
}
FEET_ALONE: Final[Blend] = {"reach": (2.0, 0.0), "half_speed": (1.0, 0.0)}
"""Without the body, for one foot against the other: what comes later is the same for both."""
CONTACT_APART_S: Final = 0.015
"""The signs of contact differ by 3 to 7 ms (SD, rendered tuning cases); what is off by more than
twice that is a misreading, most often the body's fall."""
TOE_OFF_BLEND: Final[dict[View, Blend]] = {
    View.SIDE: {
        "toe_back": (1.0, -0.038),
        "knee_straight": (1.0, 0.026),
        "body_rise": (1.0, 0.091),
    },
    View.BEHIND: _ACROSS_OFF,
    View.FRONT: _ACROSS_OFF,
}


def blend(signs: dict[str, float], weights: Blend, apart_s: float = math.inf) -> float:
    """One instant from several signs, seconds after the anchor.

    A sign that is further than ``apart_s`` from the middle one counts as if it were just so far: a
    misreading must not draw the others along.
    """
    told = {name: signs[name] + later for name, (_, later) in weights.items()}
    middle = median(told.values())
    total = sum(weight for weight, _ in weights.values())
    return (
        sum(
            weight * min(max(told[name], middle - apart_s), middle + apart_s)
            for name, (weight, _) in weights.items()
        )
        / total
    )


@dataclass(frozen=True, slots=True)
class Curves:
    """The mean stride on a grid of phases, in one foot's terms."""

    step_s: float
    """Time from one grid point to the next."""
    ahead: FloatArray
    """(360,) ankle forward in the picture, px; side view only meaningful."""
    leg_ahead: FloatArray
    """(2, 360) knee and ankle ahead of the hip of their side, px."""
    foot_ahead: FloatArray
    """(360,) mean of ankle, heel and toe forward, px."""
    toe_ahead: FloatArray
    foot_down: FloatArray
    """(360,) mean of ankle, heel and toe downward, px."""
    lower: FloatArray
    """(360,) how far the foot is lower than the other one, px: the two feet's are opposites."""
    body_down: FloatArray
    """(360,) head, shoulders and hips together, downward, px; rigid, and never hidden."""
    knee_below_body: FloatArray
    """(360,) knee below these, px."""
    knee_below_hip: FloatArray
    """(360,) knee below the hip of its side, px."""
    knee_straight: FloatArray
    """(360,) hip to ankle over thigh plus shank; 1 = straight."""


def curves_of(mean: MeanStride, side: Side, forward: float) -> Curves:
    """Lay out the curves that the signs are read from."""
    body = mean.all_round
    root = ALL_ROUND @ mean.root
    whole = root[:, 1] + body[:, RIGID, 1].mean(axis=1)
    k = 0 if side is Side.LEFT else 1
    hip, knee, ankle = (body[:, i + k] for i in (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE))
    toe = body[:, Lm.LEFT_FOOT_INDEX + k]
    foot, other = (body[:, FOOT + i].mean(axis=1) for i in (k, 1 - k))
    chain = np.linalg.norm(knee - hip, axis=1) + np.linalg.norm(ankle - knee, axis=1)
    return Curves(
        step_s=1.0 / (mean.rate_hz * GRID),
        ahead=forward * (ankle[:, 0] + root[:, 0]),
        leg_ahead=forward * np.stack([knee[:, 0] - hip[:, 0], ankle[:, 0] - hip[:, 0]]),
        foot_ahead=forward * (foot[:, 0] + root[:, 0]),
        toe_ahead=forward * (toe[:, 0] + root[:, 0]),
        foot_down=foot[:, 1] + root[:, 1],
        lower=foot[:, 1] - other[:, 1],
        body_down=whole,
        knee_below_body=knee[:, 1] + root[:, 1] - whole,
        knee_below_hip=knee[:, 1] - hip[:, 1],
        knee_straight=np.linalg.norm(ankle - hip, axis=1) / np.maximum(chain, 1e-9),
    )


def slope(curve: FloatArray, step_s: float) -> FloatArray:
    """Time derivative of a periodic curve on the grid, per second."""
    return (np.roll(curve, -1) - np.roll(curve, 1)) / (2.0 * step_s)


def steadied(curve: FloatArray, step_s: float, sd_s: float = STEADY_S) -> FloatArray:
    """A periodic curve on the grid after a Gaussian low-pass."""
    hz = np.fft.rfftfreq(GRID, step_s)
    waves = np.fft.rfft(curve) * np.exp(-0.5 * (TWO_PI * hz * sd_s) ** 2)
    return np.asarray(np.fft.irfft(waves, GRID))


def window(curve: FloatArray, anchor: int, c: Curves, from_s: float, to_s: float) -> FloatArray:
    """The stretch of a periodic curve from ``from_s`` to ``to_s`` around a grid index."""
    first, last = round(from_s / c.step_s), round(to_s / c.step_s)
    return curve[np.arange(anchor + first, anchor + last + 1) % GRID]


def top(curve: FloatArray) -> float:
    """Index of the highest value, interpolated by a parabola."""
    at = int(np.argmax(curve))
    if at in (0, len(curve) - 1):
        return float(at)
    before, here, after = curve[at - 1 : at + 2]
    bend = before - 2.0 * here + after
    return at if bend == 0 else at + 0.5 * float((before - after) / bend)


def first_above(curve: FloatArray, level: float) -> float:
    """Index at which the curve first reaches ``level``, interpolated; its end if never."""
    above = np.flatnonzero(curve >= level)
    if len(above) == 0:
        return float(len(curve) - 1)
    at = int(above[0])
    if at == 0:
        return 0.0
    return at - float((curve[at] - level) / (curve[at] - curve[at - 1]))


def contact_signs(c: Curves, view: View) -> tuple[float, dict[str, float]]:
    """Anchor (rad) and the signs of contact, seconds after the anchor."""
    body_down = c.body_down if view is View.SIDE else steadied(c.body_down, c.step_s)
    down_speed = slope(body_down, c.step_s)
    if view is View.SIDE:
        anchor = int(np.argmax(c.ahead))
        back = -slope(c.foot_ahead, c.step_s)
        stance = float(np.median(window(back, anchor, c, 0.09, 0.19)))
        run = window(back, anchor, c, 0.0, 0.15)
        signs = {
            "reach": (top(window(c.ahead, anchor, c, -0.02, 0.02)) * c.step_s) - 0.02,
            "half_speed": first_above(run, 0.5 * stance) * c.step_s,
        }
    else:
        # In every step the body falls fastest once, near contact; which foot's contact it is, the
        # feet tell by which of them is lower. Half a step either way from where the fall is to be
        # expected, so that the two feet's contacts can never fall into one.
        lowest = int(np.argmax(steadied(c.lower, c.step_s)))
        first = lowest - round(LOWEST_AFTER_FALL_S[view] / c.step_s) - GRID // 4
        fall = down_speed[np.arange(first, first + GRID // 2) % GRID]
        anchor = (first + int(np.argmax(fall))) % GRID
        signs = _from_behind(c, anchor) if view is View.BEHIND else _in_front(c, anchor, lowest)
    fall = window(down_speed, anchor, c, -0.08, 0.15)
    signs["body_fall"] = top(fall) * c.step_s - 0.08
    return float(PHASES[anchor]), signs


def _from_behind(c: Curves, anchor: int) -> dict[str, float]:
    """As the leg takes the weight its knee bends, and the body sinks toward the knee fastest."""
    signs = {}
    for name, curve in (("knee_up", c.knee_below_body), ("thigh_up", c.knee_below_hip)):
        rise = window(-slope(steadied(curve, c.step_s), c.step_s), anchor, c, -0.10, 0.08)
        signs[name] = top(rise) * c.step_s - 0.10
    return signs


def _in_front(c: Curves, anchor: int, lowest: int) -> dict[str, float]:
    """The foot comes nearer, so lower in the picture, until the belt takes it back."""
    low = window(c.foot_down, lowest, c, -0.08, 0.08)
    after = (lowest - anchor + GRID // 2) % GRID - GRID // 2
    return {"foot_low": (top(low) + after) * c.step_s - 0.08}


def toe_off_signs(c: Curves, contact: float) -> tuple[float, dict[str, float]]:
    """Anchor (rad, the contact) and the signs of toe-off, seconds after it."""
    anchor = round(contact / TWO_PI * GRID) % GRID
    rise = -slope(c.body_down, c.step_s)
    signs = {
        "toe_back": top(-window(c.toe_ahead, anchor, c, 0.12, 0.45)) * c.step_s + 0.12,
        "knee_straight": top(window(c.knee_straight, anchor, c, 0.12, 0.40)) * c.step_s + 0.12,
        "body_rise": top(window(rise, anchor, c, 0.10, 0.40)) * c.step_s + 0.10,
    }
    return float(PHASES[anchor]), signs
