"""The benches work, and find what they are there to find; no timing is asserted here."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from feedback.journal.entries import EventEntry
from feedback.sound.tones import Samples, render_all
from feedback.station.setup import SessionOutcome
from feedback.station.worker import WorkCounts
from shared.flow import Cue, CueKind, EventKind, GaitEvent, Side
from shared.messages import StopReason
from shared.units import NS_PER_S
from tests.accuracy.tracks import CLIPS, truth_of
from tests.bench.__main__ import run
from tests.bench.beats import find_beats, judge
from tests.bench.chain import steps_of
from tests.bench.endurance import growth_percent
from tests.bench.listening import BeatListener
from tests.bench.result import Result, at_least, at_most, print_table, spread_ms
from tests.bench.stage import Played
from tests.pulse import RATE_HZ, Heard

ZERO_NS = 7 * NS_PER_S
SOUNDS = render_all(RATE_HZ)


@pytest.mark.model
@pytest.mark.sound
@pytest.mark.window
@pytest.mark.parametrize("name", ["core", "live", "beats"])
def test_a_quick_round_tells_its_lines(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    [result] = run([name], quick=True, endurance_min=0.0)
    assert result.lines
    assert all(line.found for line in result.lines)
    assert json.loads(json.dumps(result.as_json()))["bench"] == name
    print_table([result])
    assert result.lines[0].what in capsys.readouterr().out


def test_a_line_holds_or_does_not() -> None:
    assert at_most("a", 1.0, 1.0).holds
    assert not at_most("a", 1.01, 1.0).holds
    assert at_least("a", 90.0, 90.0).holds
    assert not at_least("a", 89.9, 90.0).holds
    assert not at_most("nothing was measured", float("nan"), 1.0).holds


def test_a_spread_of_nothing_is_no_number() -> None:
    assert np.isnan(spread_ms([])["p50"])
    assert spread_ms([1_000_000, 3_000_000])["p50"] == 2.0


def test_results_go_to_json_as_they_are() -> None:
    result = Result("core", [at_most("a", 0.5, 1.0, "ms")], {"more": [1]}, 0.1, 0.2)
    assert json.loads(json.dumps(result.as_json()))["lines"][0] == {
        "what": "a",
        "asked": "<= 1 ms",
        "found": "0.50 ms",
        "holds": True,
    }


def _played(late_ns: int, sound_after_ns: int) -> Played:
    """A session in which the tenth true contact is known, cued and heard of so much later."""
    truth = truth_of(CLIPS / "side_01_near.mp4")
    step = truth.steps[10]
    index = int(np.searchsorted(truth.frame_time_s, step["contact_s"] + 0.06))
    arrived_ns = [ZERO_NS + round(t * NS_PER_S) for t in truth.frame_time_s]
    captured_ns = arrived_ns[index]
    event = GaitEvent(
        kind=EventKind.CONTACT,
        side=Side(step["side"]),
        at_ns=ZERO_NS + round(step["contact_s"] * NS_PER_S) + 5_000_000,
        captured_ns=captured_ns,
        quality=1.0,
        uncertainty_ms=5.0,
    )
    cue = Cue(
        kind=CueKind.OUT_OF_BAND,
        measure="strike_ahead",
        side=None,
        sound="out_low",
        words="",
        step_number=10,
        captured_ns=captured_ns,
        decided_ns=captured_ns + late_ns,
    )
    samples = np.zeros((20 * RATE_HZ, 2), np.float32)
    heard = Heard(samples, ZERO_NS)
    first = heard.frame_at(cue.decided_ns + sound_after_ns)
    samples[first : first + len(SOUNDS["out_low"])] = SOUNDS["out_low"]
    return Played(
        outcome=SessionOutcome(StopReason.FINISHED, None, None, None, None, WorkCounts(), 0),
        entries=(EventEntry(event=event),),
        arrived_ns=arrived_ns,
        seen=[(at, number, 0) for number, at in enumerate(arrived_ns)],
        decisions_ns=[],
        handed=[(cue, cue.decided_ns)],
        heard=heard,
        dropouts=0,
    )


def test_the_chain_is_counted_from_the_true_contact_to_the_sound() -> None:
    truth = truth_of(CLIPS / "side_01_near.mp4")
    [chain] = steps_of(truth, _played(late_ns=12_000_000, sound_after_ns=9_000_000))
    contact_ns = ZERO_NS + round(truth.steps[10]["contact_s"] * NS_PER_S)
    assert chain.contact_ns == contact_ns
    assert 60e6 <= chain.exposed_ns - contact_ns <= 60e6 + NS_PER_S / 30
    assert chain.decided_ns == chain.arrived_ns + 12_000_000
    assert chain.onset_ns is not None
    # The sound rises from nothing, so its begin is found a moment late.
    assert 9e6 <= chain.onset_ns - chain.decided_ns <= 12e6


def test_a_cue_that_was_never_heard_has_no_onset() -> None:
    truth = truth_of(CLIPS / "side_01_near.mp4")
    [chain] = steps_of(truth, _played(late_ns=12_000_000, sound_after_ns=400_000_000))
    assert chain.onset_ns is None


def _beaten(intervals_ms: list[float]) -> Samples:
    samples = np.zeros((round((sum(intervals_ms) + 500) / 1e3 * RATE_HZ), 2), np.float32)
    at_ms = np.concatenate([[0.0], np.cumsum(intervals_ms)]) + 100.0
    for number, at in enumerate(at_ms):
        shape = SOUNDS["beat_right" if number % 2 else "beat_left"]
        first = round(at / 1e3 * RATE_HZ)
        samples[first : first + len(shape)] += np.float32(0.2) * shape
    return samples


def _holds(samples: Samples, changes: list[tuple[int, float]]) -> list[bool]:
    beats, left_over = find_beats(samples)
    lines, _ = judge(Heard(samples, 0), beats, left_over, changes, 0)
    return [line.holds for line in lines if line.holds is not None]


def test_even_beats_hold_every_line() -> None:
    steady = [(0, 150.0)]
    assert _holds(_beaten([400.0] * 10), steady) == [True] * 4
    changed = [*steady, (round(2.2e9), 200.0)]
    assert _holds(_beaten([400.0] * 5 + [310.0] + [300.0] * 5), changed) == [True] * 4


def test_uneven_double_lone_sided_and_clicking_beats_are_found() -> None:
    steady = [(0, 150.0)]
    uneven = _beaten([400.0, 404.0, 396.0, 404.0, 396.0, 400.0])
    assert _holds(uneven, steady) == [False, True, True, True]
    changed = [*steady, (round(2.2e9), 200.0)]
    assert not _holds(_beaten([400.0] * 5 + [120.0] + [300.0] * 5), changed)[1]
    click = _beaten([400.0] * 6)
    click[RATE_HZ + 30] += np.float32(0.001)
    assert not _holds(click, steady)[3]
    one_side = _beaten([400.0] * 3)
    one_side = np.concatenate([one_side[: round(1.2 * RATE_HZ)], one_side])
    assert not _holds(one_side, steady)[2]


def test_growth_is_taken_after_the_warm_up() -> None:
    filling = np.concatenate([np.linspace(50, 100, 20), np.full(80, 100.0)])
    assert growth_percent(filling) == 0.0
    assert growth_percent(np.linspace(100, 110, 101)) > 5.0


def test_a_late_beat_is_a_break_and_a_slow_one_a_drift() -> None:
    listener = BeatListener({})
    period = round(RATE_HZ * 60 / 160)
    listener.onsets = [number * (period + 1) for number in range(1000)]
    drift, sd, breaks = listener.beats_drift(160.0)
    assert drift == pytest.approx(160 * 1000 / RATE_HZ, rel=0.01)
    assert sd == pytest.approx(0.0, abs=1e-6)
    assert breaks == 0
    listener.onsets = [number * period + (480 if number > 500 else 0) for number in range(1000)]
    drift, _, breaks = listener.beats_drift(160.0)
    assert drift == pytest.approx(0.0, abs=1e-6)
    assert breaks == 1


def test_the_outputs_clock_is_told_against_the_computers() -> None:
    listener = BeatListener({})
    listener.leads = [(at * 20 * NS_PER_S, 1e6 * at) for at in range(10)]
    assert listener.output_drift_ms_per_min() == pytest.approx(3.0)


def test_the_clips_of_the_benches_are_there() -> None:
    from tests.bench import core_cost, live_loop, recorded, two_cameras

    named = {name for films in live_loop.FILMS.values() for name, _ in films}
    named |= {name for names in core_cost.CASES.values() for name in names}
    named |= {name for names in two_cameras.PAIRS.values() for name in names}
    named |= set(recorded.CASES)
    assert all(Path(CLIPS / f"{name}.mp4").exists() for name in named)
