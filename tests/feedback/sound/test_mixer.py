"""The mixer, block by block with plain numbers for time: stop, heartbeat, priority, ceiling."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from feedback.sound.mixer import FADE_S, Mixer
from feedback.sound.tones import CEILING, SOUNDS, Samples, render_all
from shared.records import Cue, CueKind, Played

RATE_HZ = 48_000
BLOCK = 256
BLOCK_NS = BLOCK * 1_000_000_000 // RATE_HZ
LATENCY_NS = 12_000_000
RENDERED = render_all(RATE_HZ)
FADE = round(FADE_S * RATE_HZ)


def cue(sound: str, decided_ns: int, kind: CueKind = CueKind.OUT_OF_BAND) -> Cue:
    return Cue(
        kind=kind,
        measure=None,
        side=None,
        sound=sound,
        words="",
        step_number=0,
        captured_ns=decided_ns - 30_000_000,
        decided_ns=decided_ns,
    )


class Desk:
    """A mixer and what came out of it so far; time goes on with the samples."""

    def __init__(self, volume: float = 1.0) -> None:
        self.mixer = Mixer(RENDERED, RATE_HZ, volume, BLOCK)
        self.blocks: list[Samples] = []
        self.now_ns = 7_000_000_000
        self.begun_ns = self.now_ns

    def run(self, seconds: float, alive: bool = False) -> Samples:
        """Ask for whole blocks for about this time and give them as one array."""
        before = len(self.blocks)
        for _ in range(round(seconds * RATE_HZ / BLOCK)):
            if alive:
                self.mixer.heartbeat(self.now_ns)
            out = np.full((BLOCK, 2), np.nan, np.float32)
            self.mixer.fill(out, self.now_ns, self.now_ns + LATENCY_NS)
            self.blocks.append(out)
            self.now_ns += BLOCK_NS
        return np.concatenate(self.blocks[before:])

    def play(self, sound: str, kind: CueKind = CueKind.OUT_OF_BAND) -> None:
        self.mixer.play(cue(sound, self.now_ns, kind))

    def seconds_at(self, at_ns: int) -> float:
        """A time stamp of Played, as seconds of sound since the beginning."""
        return (at_ns - LATENCY_NS - self.begun_ns) / 1e9


def same(out: Samples, sound: str, at: int = 0) -> bool:
    """Whether ``sound`` and nothing else is in ``out`` from frame ``at`` on, sample by sample."""
    wanted = np.zeros_like(out)
    wanted[at : at + len(RENDERED[sound])] = RENDERED[sound][: len(out) - at]
    return bool(np.array_equal(out, wanted))


def loud_seconds(out: Samples) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Times of all samples that are not silent, in s from the start of ``out``."""
    return np.flatnonzero(np.any(out != 0.0, axis=1)) / RATE_HZ


def largest_jump(out: Samples) -> float:
    return float(np.max(np.abs(np.diff(out, axis=0))))


def click_limit(*sounds: str) -> float:
    """The largest jump that the sounds make by themselves, with a tenth for a 2 ms fade."""
    return 1.1 * sum(largest_jump(RENDERED[sound]) for sound in sounds) + 0.01


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
        at = int(number * 60.0 * RATE_HZ / 170.0)
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


# -- stop


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
    last_ns = desk.now_ns - BLOCK_NS
    out = desk.run(12.0)
    beats = loud_seconds(out[: round(0.65 * RATE_HZ)])
    assert beats[-1] < 0.5 + 0.005 + FADE_S
    played = desk.mixer.drain_played()
    assert [p.kind for p in played] == [CueKind.FAULT] * 3
    assert {p.captured_ns for p in played} == {last_ns}
    first, second, third = (desk.seconds_at(p.sounded_ns) for p in played)
    assert first == pytest.approx(2.0 + 0.5 + 0.2, abs=0.015)
    assert second - first == pytest.approx(5.0, abs=1e-4)
    assert third - second == pytest.approx(5.0, abs=1e-4)
    whole = np.concatenate(desk.blocks)
    at = round(first * RATE_HZ)
    length = len(RENDERED["fault"])
    assert np.array_equal(whole[at : at + length], RENDERED["fault"])
    assert not whole[at + length : at + round(4.9 * RATE_HZ)].any()


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


def test_no_arrays_are_made_in_the_callback() -> None:
    """Views alone: at no time in a busy second is as much as a few blocks' memory in use."""
    desk = Desk()
    desk.mixer.set_beat(200.0)
    out = np.zeros((BLOCK, 2), np.float32)
    for _ in range(10):
        desk.mixer.fill(out, desk.now_ns, desk.now_ns)
    desk.play("warning")
    tracemalloc.start()
    for _ in range(200):
        desk.mixer.fill(out, desk.now_ns, desk.now_ns)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # One block of stereo float32 is 2,048 bytes.
    assert most < 4 * 2_048
