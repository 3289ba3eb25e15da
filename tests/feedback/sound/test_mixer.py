"""The mixer: cues and their ranks, the beat to the sample, and the ceiling."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.safety.rules import least_alert_volume
from feedback.sound.mixer import Mixer
from feedback.sound.tones import CEILING, SOUNDS
from shared.flow import CueKind, Played
from tests.feedback.sound.player import (
    BLOCK,
    FADE,
    LATENCY_NS,
    RATE_HZ,
    RENDERED,
    Desk,
    click_limit,
    cue,
    largest_jump,
    loud_seconds,
    same,
)

ROOT = Path(__file__).parents[3]


def test_nothing_asked_nothing_heard() -> None:
    assert not Desk().run(2.0).any()


@pytest.mark.parametrize("sound", SOUNDS)
def test_a_cue_comes_out_sample_by_sample_in_the_next_block(sound: str) -> None:
    desk = Desk()
    desk.run(0.1)
    desk.play(sound)
    assert same(desk.run(2.0), sound)


def test_volume_scales_everything() -> None:
    desk = Desk(volume=0.25)
    desk.play("back")
    out = desk.run(1.0)
    assert np.max(np.abs(out)) == pytest.approx(0.25 * SOUNDS["back"].peak, rel=1e-5)
    assert not np.any(Desk(volume=0.0).run(0.1))


def test_a_new_volume_holds_from_the_next_sound_on() -> None:
    desk = Desk(volume=0.35)
    desk.play("out_low")
    begun = desk.run(0.1)
    desk.mixer.set_volume(0.1)
    whole = np.concatenate([begun, desk.run(0.5)])[: len(RENDERED["out_low"])]
    assert np.allclose(whole, 0.35 * RENDERED["out_low"], atol=1e-6)  # the one that sounds goes on
    desk.play("out_low")
    assert np.max(np.abs(desk.run(0.5))) == pytest.approx(0.1 * SOUNDS["out_low"].peak, rel=1e-5)


@pytest.mark.parametrize(
    ("volume", "most", "heard_at"),
    [(1.0, 1.0, 1.0), (0.35, 1.0, 0.35), (0.035, 1.0, 0.175), (0.0, 1.0, 0.175), (0.01, 0.1, 0.1)],
)
def test_what_says_that_something_is_wrong_keeps_a_floor_within_the_athletes_limit(
    volume: float, most: float, heard_at: float
) -> None:
    def desk() -> Desk:
        new = Desk()
        new.mixer = Mixer(RENDERED, RATE_HZ, 1.0, BLOCK, least_alert_volume(most))
        new.mixer.set_volume(volume)
        return new

    for sound, kind in [("warning", CueKind.WARNING), ("fault", CueKind.FAULT)]:
        sounding = desk()
        sounding.play(sound, kind)
        loudest = np.max(np.abs(sounding.run(2.0)))
        assert loudest == pytest.approx(heard_at * SOUNDS[sound].peak, rel=1e-5)
    stopped = desk()
    stopped.mixer.stop(True, stopped.now_ns)
    loudest = np.max(np.abs(stopped.run(2.0)))
    assert loudest == pytest.approx(heard_at * SOUNDS["stop"].peak, rel=1e-5)


@pytest.mark.parametrize("volume", [-0.1, 1.01, float("nan")])
def test_volume_outside_its_range_is_refused(volume: float) -> None:
    with pytest.raises(ValueError, match="volume"):
        Mixer(RENDERED, RATE_HZ, volume, BLOCK)


def test_played_tells_when_it_leaves_the_computer() -> None:
    desk = Desk()
    desk.run(0.5)
    decided = desk.now_ns
    desk.play("out_low_left")
    desk.run(0.5)
    assert desk.mixer.drain_played() == [
        Played(
            kind=CueKind.OUT_OF_BAND,
            captured_ns=decided - 30_000_000,
            decided_ns=decided,
            sounded_ns=decided + LATENCY_NS,
        )
    ]
    assert desk.mixer.drain_played() == []


def test_a_cue_without_sound_is_left_alone_and_an_unknown_one_is_an_error() -> None:
    desk = Desk()
    desk.play("")
    assert not desk.run(0.1).any()
    with pytest.raises(KeyError):
        desk.play("no_such_sound")


def test_a_cue_that_waited_too_long_is_dropped() -> None:
    desk = Desk()
    desk.play("back")
    desk.now_ns += 151_000_000
    assert not desk.run(0.5).any()
    assert desk.mixer.drain_played() == []


def test_a_later_cue_takes_over_without_a_click() -> None:
    desk = Desk()
    desk.play("out_low")
    first = desk.run(0.1)
    desk.play("out_high_right")
    second = desk.run(0.6)
    alone = Desk()
    alone.play("out_high_right")
    assert np.array_equal(second[FADE:], alone.run(0.6)[FADE:])
    assert largest_jump(np.concatenate([first, second])) < click_limit("out_low", "out_high_right")


def test_a_warning_is_not_cut_off_by_a_cue_but_cuts_one_off() -> None:
    desk = Desk()
    desk.play("out_low")
    desk.run(0.05)
    desk.play("warning", CueKind.WARNING)
    desk.run(0.1)
    desk.play("out_high")
    desk.run(1.0)
    kinds = [played.kind for played in desk.mixer.drain_played()]
    assert kinds == [CueKind.OUT_OF_BAND, CueKind.WARNING]


def test_of_two_cues_in_one_block_the_higher_rank_sounds_else_the_newer() -> None:
    desk = Desk()
    desk.play("warning", CueKind.WARNING)
    desk.play("out_low")
    assert same(desk.run(1.0), "warning")
    desk.play("out_low")
    desk.play("out_high")
    assert same(desk.run(1.0), "out_high")


# -- the beat


@pytest.mark.parametrize("spm", [0.0, -170.0, 59.9, 300.1, float("nan"), float("inf")])
def test_a_beat_that_no_one_runs_to_is_refused(spm: float) -> None:
    with pytest.raises(ValueError, match="beat"):
        Desk().mixer.set_beat(spm)


def test_beats_are_placed_to_the_sample_and_take_turns() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    out = desk.run(10.0)
    wanted = np.zeros_like(out)
    for number in range(round(10.0 * 170.0 / 60.0) + 1):
        at = round(number * 60.0 * RATE_HZ / 170.0)
        tick = RENDERED["beat_right" if number % 2 else "beat_left"]
        end = min(len(out), at + len(tick))
        wanted[at:end] = tick[: end - at]
    assert np.array_equal(out, wanted)


def test_tempo_changes_make_no_click() -> None:
    desk = Desk()
    for spm in (170.0, 176.0, 168.0, 200.0, 160.0):
        desk.mixer.set_beat(spm)
        desk.run(1.013)
    assert largest_jump(np.concatenate(desk.blocks)) < click_limit("beat_right")


def test_a_beat_that_is_switched_off_rings_out_and_is_silent() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    desk.run(0.02)
    desk.mixer.set_beat(None)
    out = desk.run(3.0)
    assert loud_seconds(out)[-1] < 0.045
    assert largest_jump(np.concatenate(desk.blocks)) < click_limit("beat_left")


def test_cue_and_beat_add_up() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    desk.play("out_low_left")
    both = desk.run(0.3)
    alone = Desk()
    alone.mixer.set_beat(170.0)
    assert np.allclose(both - alone.run(0.3), np.pad(
        RENDERED["out_low_left"], ((0, len(both) - len(RENDERED["out_low_left"])), (0, 0))
    ), atol=1e-6)  # fmt: skip


# -- the ceiling


@given(
    orders=st.lists(
        st.tuples(st.sampled_from(sorted(SOUNDS)), st.sampled_from([None, 150.0, 220.0]),
                  st.integers(min_value=1, max_value=60)),
        max_size=25,
    ),
    stop_after=st.integers(min_value=0, max_value=25),
)  # fmt: skip
def test_whatever_is_asked_stays_finite_under_the_ceiling_and_soft(
    orders: list[tuple[str, float | None, int]], stop_after: int
) -> None:
    desk = Desk()
    for number, (sound, spm, blocks) in enumerate(orders):
        if number == stop_after:
            desk.mixer.stop(announce=True, now_ns=desk.now_ns)
        desk.play(sound)
        desk.mixer.set_beat(spm)
        desk.run(blocks * BLOCK / RATE_HZ)
    if desk.blocks:
        out = np.concatenate(desk.blocks)
        assert np.all(np.isfinite(out))
        assert np.max(np.abs(out)) <= CEILING
        steepest = max(largest_jump(samples) for samples in RENDERED.values())
        assert largest_jump(out) < 2.5 * steepest


def test_the_ceiling_holds_for_sounds_that_are_too_loud() -> None:
    loud = {key: samples / np.float32(SOUNDS[key].peak) for key, samples in RENDERED.items()}
    mixer = Mixer(loud, RATE_HZ, 1.0, BLOCK)
    mixer.set_beat(170.0)
    mixer.play(cue("out_low", 0))
    out = np.zeros((BLOCK, 2), np.float32)
    for _ in range(20):
        mixer.fill(out, 0, 0)
        assert np.max(np.abs(out)) <= CEILING
    assert np.max(np.abs(out)) == CEILING


MEMORY_OF_A_BUSY_SECOND = """
import tracemalloc
import numpy as np
from tests.feedback.sound.player import BLOCK, Desk
desk = Desk()
desk.mixer.set_beat(200.0)
out = np.zeros((BLOCK, 2), np.float32)
for _ in range(10):
    desk.mixer.fill(out, desk.now_ns, desk.now_ns)
desk.play("warning")
tracemalloc.start()
for _ in range(200):
    desk.mixer.fill(out, desk.now_ns, desk.now_ns)
print(tracemalloc.get_traced_memory()[1])
"""


def test_no_arrays_are_made_in_the_callback() -> None:
    """Views alone: at no time in a busy second is as much as a few blocks' memory in use.

    In a process of its own, since what is traced is the memory of every thread.
    """
    words = [sys.executable, "-c", MEMORY_OF_A_BUSY_SECOND]
    done = subprocess.run(words, capture_output=True, text=True, check=True, cwd=ROOT)
    # One block of stereo float32 is 2,048 bytes.
    assert int(done.stdout) < 4 * 2_048
