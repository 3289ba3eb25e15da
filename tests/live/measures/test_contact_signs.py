"""When feet meet and leave the belt: runners whose force rises early or late, ideal landmarks."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from live.measures import contact_signs
from live.pipeline import Pipeline, Setup
from live.stride.fourier import PHASES
from shared.flow import EventKind, FloatArray, View
from shared.units import NS_PER_MS, NS_PER_S
from tests.live.virtual_runner import Spoil, take
from tests.rendered.params import BySide, RunnerParams

RISES = (0.5, 0.8, 1.2)
"""From a force that is there at once to one that rises as late as any runner's."""
SECONDS, SETTLED_S = 14.0, 6.0


@cache
def late_ms(kind: EventKind, view: View, rise: float, contact_ms: float = 250.0) -> float:
    """How late an event is told on average."""
    params = RunnerParams(
        force_rise=rise, contact_time_ms=BySide(contact_ms, contact_ms), variability=0.3
    )
    made = take(params, view, SECONDS, spoil=Spoil(noise_px=0.5))
    height_m = made.gait.body.height_m
    pipeline = Pipeline(Setup(view, height_m, params.belt_speed_mps))
    told = [
        event.at_ns
        for pose in made.poses
        for event in pipeline.update(pose).events
        if event.kind is kind and event.at_ns > made.start_ns + SETTLED_S * NS_PER_S
    ]
    line = made.gait.timeline
    at_s = line.contact_s if kind is EventKind.CONTACT else line.toe_off_s
    true = made.start_ns + (np.asarray(at_s) * NS_PER_S).astype(np.int64)
    assert len(told) > 10
    return float(np.mean([at - true[np.argmin(abs(true - at))] for at in told])) / NS_PER_MS


def test_contact_from_behind_is_told_alike_however_soon_the_force_rises() -> None:
    """The body falls fastest 28 ms later where the force rises late; its shape tells so."""
    late = [late_ms(EventKind.CONTACT, View.BEHIND, rise) for rise in RISES]
    assert max(late) - min(late) <= 20.0, late
    assert max(np.abs(late)) <= 15.0, late


@pytest.mark.parametrize("contact_ms", [210.0, 250.0, 290.0])
def test_toe_off_from_the_side_is_told_of_short_and_long_contacts(contact_ms: float) -> None:
    assert abs(late_ms(EventKind.TOE_OFF, View.SIDE, 0.8, contact_ms)) <= 11.0


@pytest.mark.parametrize("size", [1.0, 90.0])
@pytest.mark.parametrize("turned", [0, 131])
def test_the_third_wave_tells_which_way_a_curve_leans(size: float, turned: int) -> None:
    """By hand: cos(x) + 0.2 sin(3 x) has -0.2, whatever its size and wherever it begins."""

    def found(curve: FloatArray) -> float:
        return contact_signs.third_wave(size * np.roll(curve, turned))

    assert found(np.cos(PHASES)) == pytest.approx(0.0, abs=1e-9)
    assert found(np.cos(PHASES) + 0.2 * np.sin(3.0 * PHASES)) == pytest.approx(-0.2)
    assert found(np.cos(PHASES) - 0.2 * np.sin(3.0 * PHASES)) == pytest.approx(0.2)
    assert found(np.cos(PHASES) + 0.2 * np.cos(3.0 * PHASES)) == pytest.approx(0.0, abs=1e-9)
