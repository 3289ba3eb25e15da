"""Where in the stride the runner is and how fast that goes on: a two-state Kalman filter (pure).

In plain numbers, since numpy is slow on matrices of two by two.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

RATE_WALK: Final = 0.06
"""rad^2/s^3; about 1.5 % change of step time from step to step (Hanley and Tucker 2018)."""


class Belief(NamedTuple):
    """What is believed of the phase, with how sure that is."""

    theta: float
    """Stride phase, rad, unwrapped."""
    rate: float
    """rad/s."""
    theta_var: float
    both_cov: float
    rate_var: float


def predict(before: Belief, dt_s: float) -> Belief:
    """The belief ``dt_s`` later, nothing having been seen: the rate goes on as a random walk."""
    theta, rate, theta_var, both_cov, rate_var = before
    return Belief(
        theta + dt_s * rate,
        rate,
        theta_var + 2.0 * dt_s * both_cov + dt_s**2 * rate_var + RATE_WALK * dt_s**3 / 3.0,
        both_cov + dt_s * rate_var + RATE_WALK * dt_s**2 / 2.0,
        rate_var + RATE_WALK * dt_s,
    )


def correct(before: Belief, shift: float, shift_var: float) -> Belief:
    """The belief after the phase was seen ``shift`` rad further on, with that variance."""
    theta, rate, theta_var, both_cov, rate_var = before
    gain, rate_gain = (part / (theta_var + shift_var) for part in (theta_var, both_cov))
    return Belief(
        theta + gain * shift,
        rate + rate_gain * shift,
        theta_var - gain * theta_var,
        both_cov - gain * both_cov,
        rate_var - rate_gain * both_cov,
    )


def smooth_back(
    times_s: Sequence[float],
    filtered: Sequence[Belief | None],
    predicted: Sequence[Belief | None],
) -> Iterator[float]:
    """Phases as later frames correct them, from the last but one frame back to the first.

    The pass of Rauch, Tung and Striebel. ``predicted`` is each frame's belief before it was seen.
    Ends early where a belief is missing.
    """
    last = filtered[-1]
    if last is None:
        return
    theta, rate = last.theta, last.rate
    for place in range(len(times_s) - 2, -1, -1):
        here, after = filtered[place], predicted[place + 1]
        if here is None or after is None:
            return
        dt_s = times_s[place + 1] - times_s[place]
        x, v, xx, xv, vv = here
        px, pv, pxx, pxv, pvv = after
        off_x, off_v = theta - px, rate - pv
        size = pxx * pvv - pxv * pxv
        pull_x, pull_v = (pvv * off_x - pxv * off_v) / size, (pxx * off_v - pxv * off_x) / size
        theta = x + (xx + dt_s * xv) * pull_x + xv * pull_v
        rate = v + (xv + dt_s * vv) * pull_x + vv * pull_v
        yield theta
