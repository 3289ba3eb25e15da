"""A body on a spring leg: how the runner's mass goes up, down, forward and back.

A point mass on a massless spring (Blickhan 1989, J Biomech 22:1217; McMahon & Cheng 1990, J Biomech
23 Suppl 1:65; equations from memory): stiffness and angle of attack are those at which the asked
times on the belt and in the air come out. The force of its leg is then made as uneven as a plate
measures it, with an impact and a skewed active peak, and every step is integrated with it anew.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import root

from tests.rendered.body import Floats, Ints
from tests.rendered.timeline import Timeline

G = 9.81
STEPS = 400  # of half a stance, when integrating
FINE = 800  # samples of a whole stance
SETTLING = 40


@dataclass(frozen=True)
class Force:
    """How the measured force differs from a spring's."""

    skew: float = 1.0  # below 1 the active peak comes early
    impact: float = 0.0  # of the active peak
    impact_at: float = 0.12  # share of contact
    impact_width: float = 0.05


@lru_cache(maxsize=64)
def spring_step(
    leg_m: float, speed_mps: float, contact_s: float, flight_s: float
) -> tuple[Floats, Floats]:
    """Upward and forward force through one stance (FINE + 1,) m/s2 a unit of mass.

    Raises ValueError where no spring does it.
    """
    fall = -G * flight_s / 2
    half_s = contact_s / 2
    dt = half_s / STEPS

    def rate(state: Floats, stiffness: float) -> Floats:
        length = float(np.hypot(state[0], state[1]))
        push = stiffness * max(leg_m - length, 0.0) / length
        return np.array([state[2], state[3], push * state[0], push * state[1] - G])

    def half(stiffness: float, attack: float) -> Floats:
        state = np.array([-leg_m * np.sin(attack), leg_m * np.cos(attack), speed_mps, fall])
        states = [state]
        for _ in range(STEPS):
            a = rate(state, stiffness)
            b = rate(state + a * dt / 2, stiffness)
            c = rate(state + b * dt / 2, stiffness)
            d = rate(state + c * dt, stiffness)
            state = state + (a + 2 * b + 2 * c + d) * dt / 6
            states.append(state)
        return np.array(states)

    def amiss(guess: Floats) -> Floats:
        # At mid-stance the mass is over the foot and has stopped falling.
        last = half(guess[0] * 100, guess[1])[-1]
        return np.array([last[0], last[3] / 10])

    start = [(np.pi / contact_s) ** 2 / 100, np.arcsin(min(speed_mps * half_s / leg_m, 0.99))]
    found = root(amiss, start)
    if not found.success:
        raise ValueError("no spring leg runs like this")
    stiffness, attack = found.x[0] * 100, found.x[1]
    forces = np.array([rate(state, stiffness)[2:] for state in half(stiffness, attack)])
    forces[:, 1] += G
    upward = np.concatenate([forces[:, 1], forces[-2::-1, 1]])
    forward = np.concatenate([forces[:, 0], -forces[-2::-1, 0]])
    return upward, forward


def _summed(values: Floats, step: float) -> Floats:
    return np.concatenate([[0.0], np.cumsum((values[1:] + values[:-1]) / 2 * step)])


def uneven(upward: Floats, force: Force) -> Floats:
    """The upward force as a plate would see it, as (FINE + 1,) of mean 1."""
    s = np.linspace(0, 1, FINE + 1)
    active = np.interp(s**force.skew, s, upward)
    bump = np.exp(-(((s - force.impact_at) / force.impact_width) ** 2))
    bump *= np.clip(s / force.impact_at, 0, 1)
    shape = active + force.impact * active.max() * bump
    return np.asarray(shape / (_summed(shape, 1 / FINE)[-1]))


class Mass:
    """Height and surge of the runner's mass over a timeline.

    Every step's force is as large as brings the mass to `heights_m` (n,) at the next contact; in
    the air it flies.
    """

    def __init__(
        self, timeline: Timeline, shape: Floats, forward: Floats, heights_m: Floats
    ) -> None:
        self.timeline = timeline
        self.once = _summed(shape, 1 / FINE)
        self.twice = _summed(self.once, 1 / FINE)
        contact, off = timeline.contact_s, timeline.toe_off_s
        self.heights_m = heights_m
        self.stance_s = off - contact
        steps = np.append(np.diff(contact), contact[-1] - contact[-2])
        after = np.append(heights_m[1:], heights_m[-1])
        self.speeds, self.pushes = np.zeros(len(steps)), np.zeros(len(steps))
        speed = -G * (steps[0] - self.stance_s[0]) / 2
        for i in (*[0] * SETTLING, *range(len(steps))):
            rest = steps[i] - self.stance_s[i]
            way = self.stance_s[i] ** 2 * self.twice[-1] + self.stance_s[i] * rest
            rise = after[i] - heights_m[i] if i else 0.0
            self.speeds[i] = speed
            self.pushes[i] = (rise - speed * steps[i] + G * steps[i] ** 2 / 2) / way
            speed = speed + self.pushes[i] * self.stance_s[i] - G * steps[i]
        self._surge = self._surging(forward, float(self.stance_s.mean()), float(steps.mean()))

    @staticmethod
    def _surging(forward: Floats, stance_s: float, step_s: float) -> tuple[Floats, Floats]:
        """Knots over a step (stance as 0 to 1, then flight to 2) and how far ahead (m)."""
        speed = _summed(forward, stance_s / FINE)
        way = _summed(speed, stance_s / FINE)
        s = np.linspace(0, 1, FINE + 1)
        mean = way[-1] / step_s  # in the air the speed is that of landing
        ahead = way - mean * s * stance_s
        knots = np.append(s, 2.0)
        values = np.append(ahead, 0.0)
        return knots, values - values.mean()

    def _at(self, t: Floats) -> tuple[Ints, Floats]:
        contact = self.timeline.contact_s
        step = np.clip(np.searchsorted(contact, t, side="right") - 1, 0, len(contact) - 1)
        return step, t - contact[step]

    def height(self, t: Floats) -> Floats:
        """Height (n,) m at times t (n,) s, 0 about each contact."""
        step, since = self._at(t)
        stance = self.stance_s[step]
        s = np.linspace(0, 1, FINE + 1)
        inside = np.interp(since / stance, s, self.twice) * stance**2
        beyond = np.maximum(since - stance, 0.0)
        pushed = self.pushes[step] * (inside + beyond * stance * self.once[-1])
        return np.asarray(
            self.heights_m[step] + self.speeds[step] * since - G * since**2 / 2 + pushed
        )

    def surge(self, t: Floats) -> Floats:
        """How far ahead of its mean place the mass is (n,) m: it brakes, then drives on."""
        step, since = self._at(t)
        stance = self.stance_s[step]
        ends = np.append(self.timeline.contact_s[1:], np.inf)[step] - self.timeline.contact_s[step]
        flight = np.where(np.isfinite(ends), ends - stance, 0.1)
        along = np.where(since < stance, since / stance, 1 + (since - stance) / flight)
        knots, values = self._surge
        return np.asarray(np.interp(along, knots, values))
