"""The lags of the events' signs, learnt without one movement, so that it can be judged.

What stands here is what ``python -m tests.accuracy.signs`` prints, to within 0.5 ms; but for
toe-off, whose lags are of one instant at the end of each clip: learnt from every event told, the
widened gait left out came out 15.4 ms late in place of 14.6. How much a sign counts is not
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
            View.BEHIND: Lag(0.311, -0.667, 0.065, -0.109),
            View.FRONT: Lag(0.384, -0.378, 0.0, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0252,
                "knee_straight": 0.0231,
                "half_speed": 0.0053,
            },
            (EventKind.CONTACT, View.BEHIND): {
                "body_fall": -0.0577,
            },
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0474,
                "heel_below": 0.0261,
                "heel_lowest": 0.0015,
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
            View.BEHIND: Lag(0.311, -0.864, 0.064, -0.101),
            View.FRONT: Lag(0.391, -0.524, 0.0, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0259,
                "knee_straight": 0.0249,
                "half_speed": 0.0056,
            },
            (EventKind.CONTACT, View.BEHIND): {
                "body_fall": -0.0584,
            },
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0452,
                "heel_below": 0.0262,
                "heel_lowest": 0.0033,
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
            View.BEHIND: Lag(0.232, -0.714, 0.049, -0.127),
            View.FRONT: Lag(0.18, -0.422, 0.0, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0242,
                "knee_straight": 0.0224,
                "half_speed": 0.0029,
            },
            (EventKind.CONTACT, View.BEHIND): {
                "body_fall": -0.0611,
            },
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0484,
                "heel_below": 0.0263,
                "heel_lowest": 0.0041,
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
            View.BEHIND: Lag(0.372, -0.493, 0.06, -0.138),
            View.FRONT: Lag(0.395, -0.428, 0.0, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0261,
                "knee_straight": 0.023,
                "half_speed": 0.0066,
            },
            (EventKind.CONTACT, View.BEHIND): {
                "body_fall": -0.0564,
            },
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.051,
                "heel_below": 0.025,
                "heel_lowest": -0.0018,
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
            View.BEHIND: Lag(0.251, -0.525, 0.091, -0.074),
            View.FRONT: Lag(0.436, -0.022, 0.0, 0.0),
        },
        later={
            (EventKind.CONTACT, View.SIDE): {
                "shank_forward": 0.0245,
                "knee_straight": 0.0219,
                "half_speed": 0.006,
            },
            (EventKind.CONTACT, View.BEHIND): {
                "body_fall": -0.0517,
            },
            (EventKind.CONTACT, View.FRONT): {
                "body_fall": -0.0422,
                "heel_below": 0.0267,
                "heel_lowest": 0.0003,
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
