"""Signs of foot contact and toe-off in the mean stride, and their blend into one instant."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median
from typing import Final, NamedTuple

import numpy as np

from live.stride.fourier import GRID, PHASES, TWO_PI, relative_wave
from live.stride.mean_stride import ALL_ROUND, EARS, MeanStride
from live.stride.sample import RIGID
from live.stride.vertical import borne_share, shape_of
from shared.flow import FloatArray, Side, View
from shared.landmarks import Landmark as Lm

STEADY_S: Final = 0.035
"""Movement up and down is small in the picture, so it is steadied before a sign is read from it."""
FALL_STEADY_S: Final = 0.03
KNEE_STEADY_S: Final = 0.02
LOWEST_AFTER_FALL_S: Final = {View.BEHIND: 0.14, View.FRONT: 0.06}
"""When a foot is lowest in the picture against the other one, after the body's fastest fall. A foot
looks the lower the nearer it is: from behind that is late in stance (0.11 to 0.28 s on the rendered
tuning cases, 0.03 on a captured run), from in front early (-0.05 to 0.04 s; 0.2 to 0.37 on a
captured walk, whose steps are twice as long). Half a step either way holds all of them."""
FOOT: Final = np.array([Lm.LEFT_ANKLE, Lm.LEFT_HEEL, Lm.LEFT_FOOT_INDEX])
"""Of the left; the right one's follow each."""


class Sign(NamedTuple):
    """How a sign tells the event: its weight, and how much later the event comes."""

    weight: float
    later_s: float
    later_strides: float = 0.0


Blend = dict[str, Sign]
CONTACT_BLEND: Final[dict[View, Blend]] = {
    View.SIDE: {
        "shank_forward": Sign(1.0, 0.0252),
        "knee_straight": Sign(1.0, 0.0231),
        "half_speed": Sign(1.0, 0.0053),
    },
    View.BEHIND: {"body_fall": Sign(1.0, 0.0, -0.0577)},
    View.FRONT: {
        "body_fall": Sign(1.0, 0.0, -0.0474),
        "heel_below": Sign(1.0, 0.0261),
        "heel_lowest": Sign(1.0, 0.0015),
    },
}
"""The signs of a view count alike: weights chosen by the sources fitted the one left out worse than
equal ones. Their lags are learnt from all sources alike: ``python -m tests.accuracy.signs`` lists
them by source. From the side and in front they agree, also with the invented gait. From behind the
feet show nothing, and the body's fall is fastest when the force passes body weight: 24 to 38 ms
after contact in captured runners, at once in the first gait. What the force does shows in the shape
of the body's way, so that tells the lag of each runner (``FALL_LAG``)."""


class Lag(NamedTuple):
    """How much later contact comes against the body's fastest fall, strides for each unit."""

    early: float
    pointed: float
    knees: float
    slow: float


FALL_LAG: Final = {
    View.BEHIND: Lag(0.311, -0.667, 0.065, -0.109),
    View.FRONT: Lag(0.384, -0.378, 0.0, 0.0),
}
"""By the shape of the body's way down (:class:`live.stride.vertical.Shape`) and, from behind, by
how the knees go up and down against each other and by how long a stride lasts (:func:`slowness`):
the slower the stride, the larger the share of it in which the force rises. A fifth less than least
squares over all movements alike has, since single runners are then spread least."""
STRIDES_S: Final = (0.61, 0.81)
"""How long a stride lasts in the running that the lags were learnt from: they are not followed any
further, into walking."""
FEET_ALONE: Final[Blend] = {"reach": Sign(2.0, 0.0), "half_speed": Sign(1.0, 0.0)}
"""Without the body, for one foot against the other: what comes later is the same for both."""
CONTACT_APART_S: Final = 0.015
"""The signs of contact differ by 3 to 7 ms (SD); what is off by more than twice that is a
misreading."""
RISE_SHARES: Final = (0.36, 0.62)
"""Of a stride after contact, between which the foot rises fastest."""
TOE_OFF_BLEND: Final[dict[View, Blend]] = {
    View.SIDE: {
        "foot_rise": Sign(1.0, 0.0, -0.1479),
        "body_rise": Sign(1.0, 0.047),
        "borne": Sign(1.0, -0.0183),
    },
    View.BEHIND: {
        "body_rise": Sign(1.0, 0.0474),
        "borne": Sign(1.0, -0.0133),
    },
    View.FRONT: {
        "body_rise": Sign(1.0, 0.0453),
        "borne": Sign(1.0, -0.0136),
    },
}
"""The foot lags by who moves (captured, widened and second gait disagree by 10 to 20 ms), the body
by how soon the force rises, and the force's length by how fast the body really is: each errs for
another reason, so together they err less than any. They count alike, as those of contact do."""


def blend(
    signs: dict[str, float], weights: Blend, stride_s: float, apart_s: float = math.inf
) -> float:
    """One instant from several signs, seconds after the anchor; ``stride_s`` is one stride's time.

    A sign that is further than ``apart_s`` from the middle one counts as if it were just so far: a
    misreading must not draw the others along.
    """
    told = {
        name: signs[name] + sign.later_s + sign.later_strides * stride_s
        for name, sign in weights.items()
    }
    middle = median(told.values())
    near = {name: min(max(at, middle - apart_s), middle + apart_s) for name, at in told.items()}
    total = sum(sign.weight for sign in weights.values())
    return sum(sign.weight * near[name] for name, sign in weights.items()) / total


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
    shank: FloatArray
    """(360,) shank from vertical, rad, + ankle ahead of knee; side view only meaningful."""
    knee_bend: FloatArray
    """(360,) rad, 0 straight; side view only meaningful."""
    foot_below: FloatArray
    """(360,) mean of ankle, heel and toe below head, shoulders and hips, px."""
    heel_down: FloatArray
    """(360,) heel, downward, px."""
    ears_down: FloatArray
    """(360,) both ears, downward, px: of the rigid parts what nothing before the runner hides."""
    knee_lower: FloatArray
    """(360,) how far the knee is lower than the other one, px."""
    lower: FloatArray
    """(360,) how far the foot is lower than the other one, px: the two feet's are opposites."""
    body_down: FloatArray
    """(360,) head, shoulders and hips together, downward, px; rigid, and never hidden."""
    px_per_m: float
    """At the runner."""

    @property
    def stride_s(self) -> float:
        """Time once round."""
        return self.step_s * GRID


def curves_of(mean: MeanStride, view: View, side: Side, forward: float, px_per_m: float) -> Curves:
    """Lay out the curves that the signs are read from."""
    body = mean.all_round
    root = ALL_ROUND @ mean.root
    rigid = EARS if view is View.FRONT and mean.shoulders_hidden else RIGID
    whole = root[:, 1] + body[:, rigid, 1].mean(axis=1)
    k = 0 if side is Side.LEFT else 1
    hip, knee, ankle = (body[:, i + k] for i in (Lm.LEFT_HIP, Lm.LEFT_KNEE, Lm.LEFT_ANKLE))
    foot, other = (body[:, FOOT + i].mean(axis=1) for i in (k, 1 - k))
    thigh = _forward_of_vertical(hip, knee, forward)
    shank = _forward_of_vertical(knee, ankle, forward)
    return Curves(
        step_s=1.0 / (mean.rate_hz * GRID),
        ahead=forward * (ankle[:, 0] + root[:, 0]),
        leg_ahead=forward * np.stack([knee[:, 0] - hip[:, 0], ankle[:, 0] - hip[:, 0]]),
        foot_ahead=forward * (foot[:, 0] + root[:, 0]),
        shank=shank,
        knee_bend=thigh - shank,
        foot_below=foot[:, 1] + root[:, 1] - whole,
        heel_down=body[:, Lm.LEFT_HEEL + k, 1] + root[:, 1],
        ears_down=body[:, EARS, 1].mean(axis=1) + root[:, 1],
        knee_lower=knee[:, 1] - body[:, Lm.RIGHT_KNEE - k, 1],
        lower=foot[:, 1] - other[:, 1],
        body_down=whole,
        px_per_m=px_per_m,
    )


def _forward_of_vertical(upper: FloatArray, lower: FloatArray, forward: float) -> FloatArray:
    """(360,) rad by which the lower end lies ahead of straight below the upper one."""
    way = lower - upper
    return np.arctan2(forward * way[:, 0], way[:, 1])


def slope(curve: FloatArray, step_s: float) -> FloatArray:
    """Time derivative of a periodic curve on the grid, per second."""
    return (np.roll(curve, -1) - np.roll(curve, 1)) / (2.0 * step_s)


def steadied(curve: FloatArray, step_s: float, sd_s: float) -> FloatArray:
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
    if view is View.SIDE:
        anchor = int(np.argmax(c.ahead))
        return float(PHASES[anchor]), _from_the_side(c, anchor)
    fall = slope(steadied(c.body_down, c.step_s, FALL_STEADY_S), c.step_s)
    # In every step the body falls fastest once, near contact; which foot's contact it is, the
    # feet tell by which of them is lower. Half a step either way from where the fall is to be
    # expected, so that the two feet's contacts can never fall into one.
    lowest = int(np.argmax(steadied(c.lower, c.step_s, FALL_STEADY_S)))
    first = lowest - round(LOWEST_AFTER_FALL_S[view] / c.step_s) - GRID // 4
    anchor = (first + int(np.argmax(fall[np.arange(first, first + GRID // 2) % GRID]))) % GRID
    sooner = c.stride_s * _fall_lag(c, view)
    signs = {"body_fall": top(window(fall, anchor, c, -0.08, 0.15)) * c.step_s - 0.08 + sooner}
    if view is View.FRONT:
        # The leg is straightest and the foot nearest to the camera just before the belt takes it;
        # then belt and camera part, and the heel goes up in the picture again.
        for name, heel in (
            ("heel_below", c.heel_down - c.ears_down),
            ("heel_lowest", c.heel_down),
        ):
            around = window(steadied(heel, c.step_s, STEADY_S), anchor, c, -0.15, 0.08)
            signs[name] = top(around) * c.step_s - 0.15
    return float(PHASES[anchor]), signs


def _fall_lag(c: Curves, view: View) -> float:
    """Strides by which contact comes later than usual against the body's fastest fall."""
    lag, shape = FALL_LAG[view], shape_of(c.body_down)
    by_body = lag.early * shape.early + lag.pointed * shape.pointed
    by_pace = lag.slow * slowness(c.stride_s)
    return by_body + lag.knees * third_wave(c.knee_lower) + by_pace


def slowness(stride_s: float) -> float:
    """Seconds by which a stride lasts longer than the middle one that was learnt from."""
    shortest, longest = STRIDES_S
    return min(max(stride_s, shortest), longest) - (shortest + longest) / 2.0


def third_wave(curve: FloatArray) -> float:
    """How lopsided a curve is that the other side has upside down, half a stride later.

    ``curve`` (n,) once round a stride. Its third wave against the first, as a share of it, whatever
    its size and where the stride begins.
    """
    return relative_wave(curve, 1, 3).imag


def _from_the_side(c: Curves, anchor: int) -> dict[str, float]:
    """About ``anchor``, where the ankle is furthest ahead.

    Shank and knee are past their furthest just before contact, in every gait that was looked at,
    since the leg comes back to meet the belt; at contact the foot goes back at about half the
    belt's speed.
    """
    back = -slope(c.foot_ahead, c.step_s)
    stance = float(np.median(window(back, anchor, c, 0.09, 0.19)))
    straight = -steadied(c.knee_bend, c.step_s, KNEE_STEADY_S)
    return {
        "reach": top(window(c.ahead, anchor, c, -0.02, 0.02)) * c.step_s - 0.02,
        "half_speed": first_above(window(back, anchor, c, 0.0, 0.15), 0.5 * stance) * c.step_s,
        "shank_forward": top(window(c.shank, anchor, c, -0.06, 0.09)) * c.step_s - 0.06,
        "knee_straight": top(window(straight, anchor, c, -0.06, 0.09)) * c.step_s - 0.06,
    }


def toe_off_signs(c: Curves, contact: float) -> tuple[float, dict[str, float]]:
    """Anchor (rad, the contact) and the signs of toe-off, seconds after it.

    The foot rises toward the body fastest a seventh of a stride after toe-off, whatever the pace;
    from behind and in front that is not seen well enough. The
    body rises fastest when the force falls below its weight, and how far it goes up and down says
    how long the force lasts.
    """
    place = contact / TWO_PI * GRID
    anchor = round(place)
    foot_rise = -slope(steadied(c.foot_below, c.step_s, STEADY_S), c.step_s)
    first_s, last_s = (share * c.stride_s for share in RISE_SHARES)
    body_rise = -slope(steadied(c.body_down, c.step_s, FALL_STEADY_S), c.step_s)
    borne = borne_share(c.body_down / c.px_per_m, 1.0 / c.stride_s)
    signs = {
        "foot_rise": top(window(foot_rise, anchor, c, first_s, last_s)) * c.step_s + first_s,
        "body_rise": top(window(body_rise, anchor, c, 0.10, 0.40)) * c.step_s + 0.10,
        "borne": (place - anchor) * c.step_s + borne * c.stride_s / 2.0,
    }
    return float(PHASES[anchor % GRID]), signs
