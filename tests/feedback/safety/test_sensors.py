"""What treadmill, strap and pod say: what pauses, warns and ends, and that loss changes nothing."""

from __future__ import annotations

import itertools
import random

import pytest

from feedback.safety.sensors import HEART_AGAIN_NS, HEART_HELD_NS, STALE_NS, SensorWatch
from shared.messages import StopReason
from shared.sensor_values import (
    BeltReading,
    HeartReading,
    LinkReading,
    MachineReading,
    MachineState,
    PodReading,
    SensorKind,
    SensorReading,
)
from shared.targets import Limits
from shared.units import NS_PER_S


def _belt(at_s: float, kmh: float | None) -> BeltReading:
    return BeltReading(at_ns=round(at_s * NS_PER_S), speed_kmh=kmh, incline_percent=1.0)


def _heart(at_s: float, bpm: int) -> HeartReading:
    return HeartReading(at_ns=round(at_s * NS_PER_S), rate_bpm=bpm)


def _link(at_s: float, kind: SensorKind, reached: bool) -> LinkReading:
    return LinkReading(at_ns=round(at_s * NS_PER_S), sensor=kind, reached=reached)


def _watch(warn: int | None = None, end: int | None = None) -> SensorWatch:
    return SensorWatch(Limits(heart_rate_warn_bpm=warn, heart_rate_end_bpm=end))


@pytest.mark.parametrize(
    ("state", "stop", "pause"),
    [
        (MachineState.SAFETY_KEY, StopReason.SAFETY_KEY, False),
        (MachineState.STOPPED, None, True),
        (MachineState.PAUSED, None, True),
        (MachineState.STARTED, None, False),
        (MachineState.TARGET_SPEED, None, False),
        (MachineState.OTHER, None, False),
    ],
)
def test_the_machine_says_that_it_stops(
    state: MachineState, stop: StopReason | None, pause: bool
) -> None:
    """A pulled safety key ends, stop and pause rest; a start starts nothing here."""
    found = _watch().take(MachineReading(at_ns=1, state=state))
    assert (found.stop, found.pause) == (stop, pause)


def test_a_belt_that_comes_to_a_halt_pauses_once() -> None:
    """Without a word of the machine's state; one that stood from the start pauses nothing."""
    watch = _watch()
    assert not watch.take(_belt(0, 0.0)).pause
    assert not watch.take(_belt(1, 10.0)).pause
    assert not watch.take(_belt(2, 0.8)).pause
    assert watch.take(_belt(3, 0.0)).pause
    assert not watch.take(_belt(4, 0.0)).pause
    watch.take(_belt(5, 10.0))
    assert watch.take(_belt(6, 0.1)).pause
    assert not watch.take(_belt(7, None)).pause


def test_heart_rate_counts_only_where_a_limit_is_set() -> None:
    """Off by default: no rate, however high, does anything."""
    watch = _watch()
    for second in range(60):
        found = watch.take(_heart(second, 219))
        assert found.stop is None
        assert not found.warn
    assert not watch.warns(60 * NS_PER_S)


def test_heart_rate_held_over_its_limits_warns_and_then_ends() -> None:
    """Single jumps of a slipping strap do not count; what is held for five seconds does."""
    watch = _watch(warn=170, end=185)
    assert not any(watch.take(_heart(s, 190 if s % 3 == 0 else 160)).warn for s in range(12))
    found = [watch.take(_heart(20 + s, 175)) for s in range(70)]
    warned = [s for s, one in enumerate(found) if one.warn]
    assert warned[0] == HEART_HELD_NS // NS_PER_S
    gaps = [later - earlier for earlier, later in itertools.pairwise(warned)]
    assert set(gaps) == {HEART_AGAIN_NS // NS_PER_S}
    assert not any(one.stop for one in found)
    ends = [watch.take(_heart(90 + s, 186)).stop for s in range(6)]
    assert ends == [None] * 5 + [StopReason.HEART_RATE]


def test_what_was_not_heard_is_not_held_against_the_runner() -> None:
    """Two high values with a gap between them are not a heart rate held for so long."""
    watch = _watch(end=180)
    assert watch.take(_heart(0, 190)).stop is None
    assert watch.take(_heart(4, 190)).stop is None
    assert watch.take(_heart(20, 190)).stop is None
    assert watch.take(_heart(24, 190)).stop is None
    assert watch.take(_heart(25, 190)).stop is StopReason.HEART_RATE


def test_what_is_shown_of_a_sensor_that_falls_silent() -> None:
    """The value goes after five seconds or at once when the device is lost; the row stays."""
    watch = _watch()
    assert watch.values(0) == ()
    watch.take(_link(0, SensorKind.TREADMILL, True))
    watch.take(_belt(1, 10.8))
    shown = {one.name: one.value for one in watch.values(2 * NS_PER_S)}
    assert shown == {"belt_speed": 10.8, "incline": 1.0}
    late = {one.name: one.value for one in watch.values(NS_PER_S + STALE_NS + 1)}
    assert late == {"belt_speed": None, "incline": None}
    watch.take(_belt(10, 10.8))
    watch.take(_link(10.5, SensorKind.TREADMILL, False))
    assert watch.values(11 * NS_PER_S)[0].value is None
    assert [one.code for one in watch.problems(11 * NS_PER_S, None)] == ["treadmill_lost"]
    watch.take(_link(12, SensorKind.TREADMILL, True))
    assert watch.problems(12 * NS_PER_S, None) == ()


@pytest.mark.parametrize(
    ("seen", "told"), [(10.0, False), (10.75, False), (10.9, True), (9.1, True)]
)
def test_a_picture_that_contradicts_the_machine_is_told_with_both(seen: float, told: bool) -> None:
    """Over 8 % apart both speeds are shown, whichever is faster."""
    watch = _watch()
    watch.take(_belt(1, 10.0))
    problems = watch.problems(2 * NS_PER_S, seen)
    assert [one.code for one in problems] == ["belt_speeds_differ"] * told
    if told:
        assert "10.0" in problems[0].title
        assert f"{seen:.1f}" in problems[0].title


def test_the_record_has_what_changed_and_a_sign_of_life() -> None:
    """A belt that runs evenly at four packets a second is written down every five seconds."""
    watch = _watch()
    written = sum(len(watch.take(_belt(count / 4, 10.0)).journal) for count in range(4 * 60))
    assert written == 12
    assert len(watch.take(_belt(60.1, 10.5)).journal) == 1


def test_any_sequence_is_taken_without_a_fault() -> None:
    """Ten thousand random readings, out of order too: only stops that a limit or key explains."""
    chance = random.Random(3)
    watch = _watch(warn=150, end=200)
    for _ in range(10_000):
        at_ns = chance.randrange(600 * NS_PER_S)
        kinds: tuple[SensorReading, ...] = (
            BeltReading(at_ns=at_ns, speed_kmh=chance.choice([None, 0.0, 9.9])),
            HeartReading(at_ns=at_ns, rate_bpm=chance.randrange(30, 199)),
            PodReading(at_ns=at_ns, cadence_spm=None, speed_mps=3.0),
            LinkReading(at_ns=at_ns, sensor=chance.choice(list(SensorKind)), reached=False),
            MachineReading(at_ns=at_ns, state=MachineState.STARTED),
        )
        assert watch.take(chance.choice(kinds)).stop is None
        watch.values(at_ns)
        watch.problems(at_ns, 10.0)


@pytest.mark.parametrize(
    ("incline", "told"), [(0.0, False), (1.0, False), (1.1, True), (6.0, True), (-2.0, True)]
)
def test_an_incline_is_told(incline: float, told: bool) -> None:
    """Above 1 %, up or down, for as long as the treadmill says so."""
    watch = _watch()
    watch.take(BeltReading(at_ns=0, speed_kmh=10.0, incline_percent=incline))
    codes = [problem.code for problem in watch.problems(NS_PER_S, None)]
    assert codes == (["belt_inclined"] if told else [])
    assert watch.problems(STALE_NS + 1, None) == ()
