"""What is drawn by chance for one runner of the second gait: force, legs, trunk and arms.

Ranges are wide on purpose, wider than people are said to be (from memory), since nothing that is
learnt may rest on one way of moving. Phases are shares of a stride, 0 at the contact of the right
foot; what belongs to a side is told by its own contact.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from tests.rendered.body import SIDES, Floats
from tests.rendered.spring_mass import Force
from tests.rendered.strides import mean_strides


@dataclass(frozen=True)
class Wave:
    """A mean and two harmonics of the stride: each an amplitude and a lag in shares of a stride."""

    mean: float
    first: float
    lag: float
    second: float
    second_lag: float

    def at(self, strides: Floats) -> Floats:
        """Its value (n,) at times in strides."""
        once = np.cos(2 * np.pi * (strides - self.lag))
        twice = np.cos(4 * np.pi * (strides - self.second_lag))
        return np.asarray(self.mean + self.first * once + self.second * twice)


@dataclass(frozen=True, eq=False)
class LegRecipe:
    """One leg. Curves (3, SAMPLES) deg of thigh, shank and foot over stance and swing."""

    stance: Floats
    swing: Floats
    landing_deg: float  # the foot's pitch at contact
    flat_share: float  # of contact until the foot lies flat
    flat_power: float
    heel_off_share: float
    ahead_m: float  # more ahead at contact than thigh and shank say
    outward_m: float  # the swinging foot's way round the other leg
    landing_speed_share: float  # foot's backward speed at contact, share of belt speed
    toe_off_bend_deg: float


@dataclass(frozen=True, eq=False)
class ArmRecipe:
    """One arm: angles in deg."""

    raised: Wave  # upper arm, + forward
    out_deg: float
    elbow_in_deg: float  # the plane of the upper arm's swing, + inward as it goes forward
    bend: Wave
    fore_in: Wave  # forearm's turn inward against that plane


@dataclass(frozen=True, eq=False)
class Recipe:
    """All of it."""

    force: Force
    contact_bend_deg: float
    landing_height_m: tuple[float, float]  # left, right, of the mass at contact
    hips_share: float  # of the mass's way up and down
    hips_wave_m: Wave  # and what mid-hips do besides
    surge_share: float
    shift_m: Wave
    shift_third_m: float
    list_deg: Wave
    turn_deg: Wave
    tilt_deg: Wave
    thorax_turn_deg: Wave
    thorax_pitch_deg: Wave
    thorax_list_deg: Wave
    head_pitch_deg: float
    legs: dict[str, LegRecipe]
    arms: dict[str, ArmRecipe]


@lru_cache(maxsize=64)
def drawn(seed: int) -> Recipe:
    """The recipe with this number."""
    rng = np.random.default_rng([1989, seed])

    def some(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    def wave(
        mean: tuple[float, float],
        first: tuple[float, float],
        lag: tuple[float, float],
        second: tuple[float, float] = (0.0, 0.0),
        second_lag: tuple[float, float] = (0.0, 0.5),
    ) -> Wave:
        return Wave(some(*mean), some(*first), some(*lag), some(*second), some(*second_lag))

    stances, swings = mean_strides()
    weights = rng.dirichlet(np.full(len(stances), 0.5))
    warps = [some(-0.05, 0.05) for _ in range(2)]
    bends = [[some(-size, size) for _ in range(2)] for size in (3.0, 6.0, 6.0)]
    landing = some(-8.0, 18.0)
    landing_speed, bend_off, heel_off = some(-0.05, 0.72), some(14.0, 27.0), some(0.34, 0.52)
    flat, power, ahead, outward = some(0.10, 0.26), some(1.4, 2.6), some(-0.02, 0.03), some(0, 0.03)

    def leg() -> LegRecipe:
        own = weights + np.abs(rng.normal(0.0, 0.06, len(weights)))
        own /= own.sum()
        u = np.linspace(0, 1, swings.shape[-1])
        curves: list[Floats] = []
        for phase, mean in enumerate((stances, swings)):
            mixed = np.tensordot(own, mean, 1)
            at = u + warps[phase] * np.sin(np.pi * u)
            mixed = np.array([np.interp(at, u, one) for one in mixed])
            if phase:
                for k, sizes in enumerate(bends):
                    for n, size in enumerate(sizes):
                        mixed[k] += (size + some(-0.8, 0.8)) * np.sin((n + 1) * np.pi * u)
            curves.append(mixed)
        return LegRecipe(
            curves[0],
            curves[1],
            landing + some(-1.5, 1.5),
            flat,
            power,
            heel_off + some(-0.02, 0.02),
            ahead + some(-0.012, 0.012),
            outward,
            landing_speed + some(-0.05, 0.05),
            bend_off + some(-2.0, 2.0),
        )

    def swing_arm(elbow_in: float, half: float, lag: float, base: float) -> ArmRecipe:
        raised = Wave(base + some(-3, 3), half * some(0.9, 1.1), lag, some(0.0, 4.0), some(0, 0.5))
        return ArmRecipe(
            raised,
            some(8.0, 26.0),
            elbow_in + some(-4.0, 4.0),
            wave((72.0, 112.0), (-14.0, 16.0), (lag, lag + 0.05), (0.0, 5.0)),
            wave((5.0, 40.0), (2.0, 30.0), (lag - 0.02, lag + 0.04), (0.0, 4.0)),
        )

    pelvis_lag = some(-0.10, 0.12)
    force = Force(some(0.80, 1.32), some(0.0, 0.8), some(0.07, 0.16), some(0.035, 0.07))
    middle = some(-0.003, 0.003)
    recipe = Recipe(
        force,
        some(9.0, 19.0),
        (middle, -middle),
        some(0.84, 1.0),
        wave((0.0, 0.0), (-0.002, 0.002), (0.0, 1.0), (0.0, 0.010), (0.40, 0.54)),
        some(0.4, 1.1),
        wave((0.0, 0.0), (0.001, 0.032), (0.15, 0.38), (0.0, 0.002)),
        some(-0.12, 0.12),
        wave((-1.0, 1.0), (1.5, 6.5), (0.10, 0.24), (0.0, 0.8)),
        wave((-1.5, 1.5), (1.0, 9.0), (pelvis_lag, pelvis_lag), (0.0, 1.5)),
        wave((2.0, 13.0), (0.0, 0.5), (0.0, 1.0), (0.0, 2.5)),
        wave((-2.0, 2.0), (4.0, 15.0), (-0.07, 0.09), (0.0, 1.5)),
        wave((2.0, 14.0), (0.0, 0.6), (0.0, 1.0), (0.3, 2.2)),
        wave((-1.0, 1.0), (0.0, 3.5), (0.05, 0.3), (0.0, 0.5)),
        some(-4.0, 10.0),
        {side: leg() for side in SIDES},
        {},
    )
    elbow_in, half, arm_lag, base = some(-22, 4), some(16, 34), some(-0.05, 0.09), some(-26, -6)
    arms = {side: swing_arm(elbow_in, half, arm_lag, base) for side in SIDES}
    recipe.arms.update(arms)
    return recipe
