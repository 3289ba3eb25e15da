"""A second runner, built otherwise than the first: a mass on a spring leg, with captured strides.

The mass bounces as `spring_mass.py` integrates it; legs move as captured runners' do, mixed and
bent by chance (`spring_legs.py`); trunk and arms are waves drawn from wide ranges
(`spring_upper.py`). The stance foot goes with the belt and its sole lies on it, so contact and
toe-off are exact: the first and the last instant at which a point of the sole touches the belt.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.rendered import timeline as steps
from tests.rendered.body import SIDES, Body, Floats, load_body
from tests.rendered.gait import Gait, _bisect
from tests.rendered.motion import Motion
from tests.rendered.params import RunnerParams
from tests.rendered.spring_legs import SpringLegs
from tests.rendered.spring_mass import Mass, spring_step, uneven
from tests.rendered.spring_recipe import Recipe, drawn
from tests.rendered.spring_upper import Clock, arm
from tests.rendered.timeline import Timeline
from tests.rendered.trunk import Solved

HEIGHT_SPREAD_M = 0.003
LEAST_BEND_DEG = 11.0  # of the knee anywhere in stance; else the hips are lower


@dataclass(frozen=True)
class SpringGait(Gait):
    """A runner of the second kind with everything settled."""

    legs: SpringLegs

    @property
    def told(self) -> dict[str, Any]:
        return {"driver": "spring"}

    def running(self, t: Floats) -> Motion:
        legs = self.legs
        trunk = legs.trunk(t)
        arms = legs.recipe.arms
        return Motion(
            t,
            trunk,
            {side: legs.leg(trunk, side, t) for side in SIDES},
            {side: arm(arms[side], legs.clock, self.body, trunk, side, t) for side in SIDES},
        )


@dataclass(frozen=True)
class Spring:
    """What moves a body of the second kind: the number of its recipe.

    Of the params it takes body, belt, cadence, contact times, unevenness, width and turn of the
    feet, spread, standing and happenings.
    """

    recipe: int

    def runner(self, params: RunnerParams, duration_s: float) -> SpringGait:
        """The runner; raises ValueError where the recipe asks for more than the legs can do."""
        body = load_body(params.body, params.height_m)
        recipe = drawn(self.recipe)
        plain = replace(params, step_time_sd_pct=0.0, variability=0.0, stand_s=0.0, happenings=())
        height = _hip_height(plain, body, recipe)
        timeline = steps.build(params, duration_s)
        legs = _legs(params, body, timeline, recipe, height)
        return SpringGait(params, body, timeline, Solved(height), legs, {})


def _legs(
    params: RunnerParams, body: Body, timeline: Timeline, recipe: Recipe, height: float
) -> SpringLegs:
    return SpringLegs(
        params,
        body,
        timeline,
        recipe,
        Clock(params, timeline),
        _mass(params, body, timeline, recipe),
        height,
    )


def _mass(params: RunnerParams, body: Body, timeline: Timeline, recipe: Recipe) -> Mass:
    contact_s = params.contact_time_ms.mean / 1000
    flight_s = 60.0 / params.cadence_spm - contact_s
    upward, forward = spring_step(body.leg_length_m, params.belt_speed_mps, contact_s, flight_s)
    rng = np.random.default_rng([1992, params.seed])
    spread = rng.standard_normal(len(timeline.sides)) * HEIGHT_SPREAD_M * params.variability
    by_side = dict(zip(SIDES, recipe.landing_height_m, strict=True))
    heights = np.array([by_side[side] for side in timeline.sides]) + np.clip(spread, -0.006, 0.006)
    return Mass(timeline, uneven(upward, recipe.force), forward, heights)


def _hip_height(params: RunnerParams, body: Body, recipe: Recipe) -> float:
    """Height of mid-hips at contact with which the knees are as bent there as they should be, and
    nowhere in stance too straight."""
    timeline = steps.build(params, 4 * 60.0 / params.cadence_spm)

    def too_straight(height: float) -> bool:
        legs = _legs(params, body, timeline, recipe, height)
        firsts = []
        for step in range(4, 6):
            start, end = timeline.contact_s[step], timeline.toe_off_s[step]
            t = np.linspace(start, end, 40)
            hip = legs.hip(legs.trunk(t), timeline.sides[step])
            bend = np.degrees(legs.polar(hip, legs.stance(step, t)[0])[1])
            firsts.append(bend[0])
            if bend.min() < LEAST_BEND_DEG:
                return True
        return bool(np.mean(firsts) < recipe.contact_bend_deg)

    return _bisect(0.7 * body.leg_length_m, body.leg_length_m, lambda h: not too_straight(h), 14)
