"""Belt speeds by the treadmill's word: what is a new stretch, and what is only on the way there."""

from __future__ import annotations

from feedback.training.belt_speeds import BeltSpeeds, like_speeds
from shared.sensor_values import BeltReading, LinkReading, SensorKind
from shared.units import NS_PER_S


def _feed(belt: BeltSpeeds, *readings: tuple[float, float]) -> None:
    for at_s, kmh in readings:
        belt.take(BeltReading(at_ns=round(at_s * NS_PER_S), speed_kmh=kmh))


def _now(belt: BeltSpeeds, at_s: float) -> tuple[float | None, bool]:
    return belt.now(round(at_s * NS_PER_S))


def test_a_change_is_a_new_stretch_once_it_is_held() -> None:
    """Ten, then twelve: on the way there steps belong to neither."""
    belt = BeltSpeeds()
    assert _now(belt, 0) == (None, True)
    _feed(belt, (0, 10.0), (5, 10.0), (10, 10.0))
    assert _now(belt, 10) == (10.0, True)
    _feed(belt, (11, 10.5), (12, 11.0), (13, 11.5), (14, 12.0))
    assert _now(belt, 14.5) == (10.0, False)
    assert _now(belt, 16) == (12.0, True)
    assert [(one.speed_kmh, one.begin_ns) for one in belt.stretches] == [
        (10.0, 0),
        (12.0, 14 * NS_PER_S),
    ]


def test_a_belt_that_sways_stays_one_stretch() -> None:
    """A tenth up and down is the machine's own, and never keeps a speed from counting."""
    belt = BeltSpeeds()
    _feed(belt, *((at_s, 10.0 + 0.1 * (at_s % 2)) for at_s in range(60)))
    assert _now(belt, 60)[1]
    assert len(belt.stretches) == 1


def test_like_speeds_count_as_one() -> None:
    """Back at 10.1 after 12: the same as 10.0 before, and as the 10.0 that it was to be set to."""
    belt = BeltSpeeds()
    belt.set_to(10.0)
    _feed(belt, (0, 10.2), (10, 12.0), (20, 10.1))
    assert _now(belt, 30) == (10.0, True)
    assert [one.speed_kmh for one in belt.stretches] == [10.2, 12.0, 10.1]
    assert [one.counts_as_kmh for one in belt.stretches] == [10.0, 12.0, 10.0]


def test_a_short_jump_is_no_stretch() -> None:
    """One odd reading for a second leaves the stretch as it was."""
    belt = BeltSpeeds()
    _feed(belt, (0, 10.0), (5, 12.0), (6, 10.0))
    assert _now(belt, 10) == (10.0, True)
    assert len(belt.stretches) == 1


def test_the_last_word_holds_where_the_treadmill_falls_silent() -> None:
    """Its speed was the newest that was known: the belt runs on."""
    belt = BeltSpeeds()
    _feed(belt, (0, 11.0))
    belt.take(LinkReading(at_ns=9 * NS_PER_S, sensor=SensorKind.TREADMILL, reached=False))
    assert _now(belt, 600) == (11.0, True)


def test_what_is_like() -> None:
    """A quarter of a kilometre an hour."""
    assert like_speeds(10.0, 10.25)
    assert not like_speeds(10.0, 10.3)
