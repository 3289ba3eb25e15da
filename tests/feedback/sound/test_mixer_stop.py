"""The mixer's two silences: a stop that nothing undoes, and a heartbeat that has ceased."""

from __future__ import annotations

import numpy as np
import pytest

from feedback.sound.mixer import FADE_S, LifeSign
from shared.flow import CueKind
from tests.feedback.sound.player import (
    BLOCK,
    FADE,
    LATENCY_NS,
    RATE_HZ,
    RENDERED,
    Desk,
    click_limit,
    largest_jump,
    loud_seconds,
    same,
)


def test_stop_is_silent_within_its_block_and_for_good() -> None:
    desk = Desk()
    desk.mixer.set_beat(180.0)
    desk.play("warning", CueKind.WARNING)
    before = desk.run(0.3, alive=True)
    assert before[-BLOCK:].any()
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    block = desk.run(BLOCK / RATE_HZ)
    assert not block[FADE:].any()
    assert largest_jump(np.concatenate([before, block])) < click_limit("warning", "beat_right")
    desk.play("out_low")
    desk.mixer.set_beat(None)
    desk.mixer.set_beat(175.0)
    # Not even the missing heartbeat makes a sound any more.
    assert not desk.run(12.0).any()
    assert not desk.mixer.is_announcing()


def test_stop_cuts_a_beat_that_is_under_way() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    desk.run(2 * BLOCK / RATE_HZ)
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    out = desk.run(0.1)
    assert out[: FADE // 2].any()
    assert not out[FADE:].any()


def test_a_cue_waiting_at_the_stop_is_never_heard() -> None:
    desk = Desk()
    desk.play("out_low")
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    assert not desk.run(1.0).any()
    assert desk.mixer.drain_played() == []


def test_announced_stop_sounds_once_after_400_ms_of_silence() -> None:
    desk = Desk()
    desk.mixer.set_beat(180.0)
    desk.play("fault", CueKind.FAULT)
    desk.run(0.3)
    desk.mixer.drain_played()
    asked_ns = desk.now_ns
    desk.mixer.stop(announce=True, now_ns=asked_ns)
    assert desk.mixer.is_announcing()
    out = desk.run(10.0)
    gap = round(0.4 * RATE_HZ)
    assert not out[FADE:gap].any()
    assert same(out[FADE:], "stop", gap - FADE)
    assert not desk.mixer.is_announcing()
    (played,) = desk.mixer.drain_played()
    assert (played.kind, played.decided_ns) == (CueKind.STOP, asked_ns)
    assert played.sounded_ns - asked_ns == pytest.approx(LATENCY_NS + 400_000_000, abs=50_000)


def test_a_second_stop_may_add_the_announcement_and_takes_nothing_back() -> None:
    desk = Desk()
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    assert not desk.run(1.0).any()
    desk.mixer.stop(announce=True, now_ns=desk.now_ns)
    desk.mixer.stop(announce=False, now_ns=desk.now_ns)
    assert same(desk.run(3.0), "stop")
    desk.mixer.stop(announce=True, now_ns=desk.now_ns)
    assert not desk.run(3.0).any()


# -- heartbeat


def test_without_any_heartbeat_the_watch_does_not_begin() -> None:
    desk = Desk()
    desk.mixer.set_beat(170.0)
    assert loud_seconds(desk.run(5.0))[-1] > 4.6
    assert desk.mixer.drain_played() == []


def test_a_lost_heartbeat_gives_silence_then_the_fault_sound_every_5_s() -> None:
    desk = Desk()
    desk.mixer.set_beat(180.0)
    desk.run(2.0, alive=True)
    out = desk.run(12.0)
    beats = loud_seconds(out[: round(0.65 * RATE_HZ)])
    assert beats[-1] < 0.5 + 0.005 + FADE_S
    played = desk.mixer.drain_played()
    assert [p.kind for p in played] == [CueKind.FAULT] * 3
    assert {p.captured_ns for p in played} == {desk.alive_ns}
    first, second, third = (desk.seconds_at(p.sounded_ns) for p in played)
    assert first == pytest.approx(2.0 + 0.5 + 0.2, abs=0.015)
    assert second - first == pytest.approx(5.0, abs=1e-4)
    assert third - second == pytest.approx(5.0, abs=1e-4)
    whole = np.concatenate(desk.blocks)
    at = round(first * RATE_HZ)
    length = len(RENDERED["fault"])
    assert np.array_equal(whole[at : at + length], RENDERED["fault"])
    assert not whole[at + length : at + round(4.9 * RATE_HZ)].any()


@pytest.mark.parametrize("silent", list(LifeSign))
def test_one_silent_thread_is_enough_however_alive_the_others_are(silent: LifeSign) -> None:
    desk = Desk()
    desk.mixer.set_beat(180.0)
    for _ in range(20):
        last_ns = desk.now_ns
        for thread in LifeSign:
            desk.mixer.heartbeat(last_ns, thread)
        desk.run(0.1)
    for _ in range(12):
        for thread in LifeSign:
            if thread is not silent:
                desk.mixer.heartbeat(desk.now_ns, thread)
        desk.run(0.1)
    (fault,) = desk.mixer.drain_played()
    assert fault.kind is CueKind.FAULT
    assert fault.captured_ns == last_ns
    desk.mixer.heartbeat(desk.now_ns, silent)
    before = len(desk.blocks)
    for _ in range(4):
        for thread in LifeSign:
            desk.mixer.heartbeat(desk.now_ns, thread)
        desk.run(0.1)
    assert np.concatenate(desk.blocks[before:]).any()  # it goes on


def test_cues_of_a_stalled_time_are_not_caught_up_with() -> None:
    desk = Desk()
    desk.run(1.0, alive=True)
    desk.run(0.6)
    desk.play("out_low")
    desk.run(0.05)
    desk.run(2.0, alive=True)
    assert CueKind.OUT_OF_BAND not in {played.kind for played in desk.mixer.drain_played()}


def test_a_moment_past_the_limit_only_mutes() -> None:
    desk = Desk()
    desk.run(1.0, alive=True)
    desk.run(0.6)
    desk.run(3.0, alive=True)
    assert not np.concatenate(desk.blocks).any()


def test_beat_comes_back_in_step_and_the_fault_sound_ends_when_the_heartbeat_is_back() -> None:
    desk, steady = Desk(), Desk()
    desk.mixer.set_beat(170.0)
    steady.mixer.set_beat(170.0)
    desk.run(2.0, alive=True)
    desk.run(1.2)
    assert desk.blocks[-1].any()
    desk.run(2.0, alive=True)
    steady.run(5.2)
    ours, theirs = np.concatenate(desk.blocks), np.concatenate(steady.blocks)
    # The beat under way at 3.2 s is left out; from the next one on both are the same.
    back = round(3.25 * RATE_HZ)
    assert theirs[back:].any()
    assert np.array_equal(ours[back:], theirs[back : len(ours)])
    assert largest_jump(ours) < click_limit("fault")
