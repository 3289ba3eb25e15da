"""A measure that nothing but its row in the catalogue knows, for tests of what reads that."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

import msgspec

from feedback.link.client_state import LinkStatus
from shared.catalogue import CATALOGUE
from shared.flow import BandState, Side, View
from shared.measure_spec import MeasureSpec
from shared.messages import Focus, Own, PlannedBlock, Point, Reading
from shared.targets import BlockKind
from tests.feedback.screens.panel_examples import CHANGE, briefing, cue, known, running, target
from tests.feedback.screens.panel_feed import AT_NS, S

NAME: Final = "hip_drop_test_measure"


@contextmanager
def in_the_catalogue() -> Iterator[MeasureSpec]:
    """The catalogue with it, as if it had a row there."""
    spec = MeasureSpec(
        name=NAME,
        title="Hip drop of the test",
        units=("deg",),
        by_side=True,
        views=frozenset({View.SIDE}),
        definition="Made up.",
        sign="more",
        source="none",
        averaged="single steps",
        plausible=(-10.0, 40.0),
    )
    CATALOGUE[NAME] = spec
    try:
        yield spec
    finally:
        del CATALOGUE[NAME]


def panel_status() -> LinkStatus:
    """A session that cues the new measure; call it while that is in the catalogue."""
    sides = ((Side.LEFT, 9.2), (Side.RIGHT, 11.4))
    readings = tuple(
        Reading(
            name=NAME,
            side=side,
            value=value,
            unit="deg",
            uncertainty=1.1,
            quality=0.9,
            steps=1,
            age_ms=200.0,
        )
        for side, value in sides
    )
    own = tuple(
        Own(name=NAME, side=side, unit="deg", mean=10.0, sd=1.0, least_change=0.5)
        for side, _ in sides
    )
    planned = PlannedBlock(
        kind=BlockKind.CUED, minutes=4.0, steps=None, belt_speed_kmh=10.0, cued=NAME
    )
    fields: dict[str, Any] = {
        "measure": NAME,
        "side": Side.LEFT,
        "unit": "deg",
        "low": None,
        "high": 8.0,
    }
    value: dict[str, Any] = {"value": 9.2, "state": BandState.ABOVE}
    held = target(**fields, **value, beat_spm=None, aim=8.0, aim_least=6.0, aim_most=10.0)
    changed = msgspec.structs.replace(CHANGE, **fields, old_low=None, old_high=9.0, beat_spm=None)
    shown = running(
        focus=Focus(**fields, **value, words=""),
        readings=readings,
        targets=(held,),
        changes=(changed,),
        cues=(cue(3, measure=NAME, side=Side.LEFT),),
    )
    return known(shown, briefing=briefing(own=own, blocks=(planned, planned)))


def points() -> tuple[Point, ...]:
    """A minute of values of both sides."""
    return tuple(
        Point(
            number=number,
            at_ns=AT_NS - (60 - number) * S,
            step_number=number,
            name=NAME,
            side=Side.LEFT if number % 2 else Side.RIGHT,
            value=9.0 + number % 3,
            unit="deg",
            percent_leg=None,
            uncertainty=1.1,
            quality=0.9,
        )
        for number in range(1, 60)
    )
