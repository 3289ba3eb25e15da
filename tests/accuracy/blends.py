"""The lags of the events' signs, learnt without one movement, so that it can be judged.

What stands here is what ``python -m tests.accuracy.signs`` prints. How much a sign counts is not
learnt: all count alike. Of runners B and C no contact was measured, so nothing was learnt from them
and what is learnt from all sources holds without them too.
"""

from __future__ import annotations

from collections.abc import Generator
from contextlib import contextmanager
from typing import Final, NamedTuple

from live.measures import contact_signs
from live.measures.contact_signs import Blend, Lag, Sign
from shared.flow import EventKind, View
from tests.accuracy.sources import FIRST, RUNNER_A, SECOND, WIDENED


class Learnt(NamedTuple):
    """All that is learnt of the signs from some sources."""

    fall_lag: dict[View, Lag]
    later: dict[tuple[EventKind, View], dict[str, float]]
    """Of each sign, in the unit in which the blend has it: seconds, or strides."""


LEARNT: Final[dict[str, Learnt]] = {
    "": Learnt(
        fall_lag={
            View.BEHIND: Lag(0.364, -0.562, 0.072),
            View.FRONT: Lag(0.329, -0.225, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.025,
                "knee_straight": 0.0229,
                "half_speed": 0.0047,
            },
            (EventKind.CONTACT, View.BEHIND): {"body_fall": -0.057},
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0455,
                "heel_below": 0.026,
                "heel_lowest": 0.0017,
            },
            (EventKind.TOE_OFF, View.SIDE): {
                "foot_rise": -0.1479,
                "body_rise": 0.047,
                "borne": -0.0183,
            },
            (EventKind.TOE_OFF, View.BEHIND): {"body_rise": 0.0474, "borne": -0.0133},
            (EventKind.TOE_OFF, View.FRONT): {"body_rise": 0.0453, "borne": -0.0136},
        },
    ),
    RUNNER_A: Learnt(
        fall_lag={
            View.BEHIND: Lag(0.365, -0.683, 0.077),
            View.FRONT: Lag(0.401, -0.369, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.026,
                "knee_straight": 0.0251,
                "half_speed": 0.0054,
            },
            (EventKind.CONTACT, View.BEHIND): {"body_fall": -0.0572},
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0439,
                "heel_below": 0.0267,
                "heel_lowest": 0.0041,
            },
            (EventKind.TOE_OFF, View.SIDE): {
                "foot_rise": -0.1486,
                "body_rise": 0.0477,
                "borne": -0.0204,
            },
            (EventKind.TOE_OFF, View.BEHIND): {"body_rise": 0.0457, "borne": -0.0191},
            (EventKind.TOE_OFF, View.FRONT): {"body_rise": 0.044, "borne": -0.0185},
        },
    ),
    FIRST: Learnt(
        fall_lag={
            View.BEHIND: Lag(0.352, -0.605, 0.066),
            View.FRONT: Lag(0.04, -0.297, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.024,
                "knee_straight": 0.0222,
                "half_speed": 0.0022,
            },
            (EventKind.CONTACT, View.BEHIND): {"body_fall": -0.0615},
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0463,
                "heel_below": 0.026,
                "heel_lowest": 0.004,
            },
            (EventKind.TOE_OFF, View.SIDE): {
                "foot_rise": -0.1505,
                "body_rise": 0.0372,
                "borne": -0.0175,
            },
            (EventKind.TOE_OFF, View.BEHIND): {"body_rise": 0.0402, "borne": -0.0127},
            (EventKind.TOE_OFF, View.FRONT): {"body_rise": 0.0391, "borne": -0.0119},
        },
    ),
    WIDENED: Learnt(
        fall_lag={
            View.BEHIND: Lag(0.368, -0.479, 0.063),
            View.FRONT: Lag(0.344, -0.362, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0259,
                "knee_straight": 0.0227,
                "half_speed": 0.006,
            },
            (EventKind.CONTACT, View.BEHIND): {"body_fall": -0.0551},
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0508,
                "heel_below": 0.0248,
                "heel_lowest": -0.0019,
            },
            (EventKind.TOE_OFF, View.SIDE): {
                "foot_rise": -0.1465,
                "body_rise": 0.0503,
                "borne": -0.0129,
            },
            (EventKind.TOE_OFF, View.BEHIND): {"body_rise": 0.05, "borne": -0.0067},
            (EventKind.TOE_OFF, View.FRONT): {"body_rise": 0.0482, "borne": -0.0093},
        },
    ),
    SECOND: Learnt(
        fall_lag={
            View.BEHIND: Lag(0.311, -0.369, 0.088),
            View.FRONT: Lag(0.413, 0.28, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0242,
                "knee_straight": 0.0216,
                "half_speed": 0.0051,
            },
            (EventKind.CONTACT, View.BEHIND): {"body_fall": -0.0499},
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.038,
                "heel_below": 0.0267,
                "heel_lowest": 0.0005,
            },
            (EventKind.TOE_OFF, View.SIDE): {
                "foot_rise": -0.146,
                "body_rise": 0.0529,
                "borne": -0.0223,
            },
            (EventKind.TOE_OFF, View.BEHIND): {"body_rise": 0.0536, "borne": -0.0145},
            (EventKind.TOE_OFF, View.FRONT): {"body_rise": 0.05, "borne": -0.0147},
        },
    ),
}
"""By the movement that was left out; "" none, which is what stands in the live measures."""


def in_strides(sign: Sign) -> bool:
    """Whether a sign's lag is told as a share of the stride."""
    return sign.later_strides != 0.0


@contextmanager
def learnt_without(movement: str) -> Generator[None]:
    """Have the live measures tell events by what was learnt without a movement."""
    learnt = LEARNT.get(movement, LEARNT[""])
    tables: tuple[tuple[EventKind, dict[View, Blend]], ...] = (
        (EventKind.CONTACT, contact_signs.CONTACT_BLEND),
        (EventKind.TOE_OFF, contact_signs.TOE_OFF_BLEND),
    )
    before = [dict(table) for _, table in tables], dict(contact_signs.FALL_LAG)
    try:
        for kind, table in tables:
            for view, blend in list(table.items()):
                table[view] = {
                    name: with_lag(sign, learnt.later[(kind, view)][name])
                    for name, sign in blend.items()
                }
        contact_signs.FALL_LAG.update(learnt.fall_lag)
        yield
    finally:
        for (_, table), kept in zip(tables, before[0], strict=True):
            table.update(kept)
        contact_signs.FALL_LAG.update(before[1])


def with_lag(sign: Sign, later: float) -> Sign:
    """The sign with another lag."""
    if in_strides(sign):
        return sign._replace(later_strides=later)
    return sign._replace(later_s=later)
