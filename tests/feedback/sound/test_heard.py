"""What really comes out: the speaker through PortAudio into a recorded PulseAudio sink."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from feedback.sound.mixer import FADE_S, HEARTBEAT_LIMIT_NS
from feedback.sound.speaker import BLOCK, Speaker, open_speaker
from feedback.sound.tones import DEFAULT_VOLUME, SOUNDS, Samples, render_all
from shared.clock import now_ns
from shared.flow import Cue, CueKind, Played
from shared.problems import UserError
from tests.pulse import RATE_HZ, Heard, PulseServer

pytestmark = pytest.mark.sound

RENDERED = {key: s * np.float32(DEFAULT_VOLUME) for key, s in render_all(RATE_HZ).items()}
BLOCK_MS = BLOCK / RATE_HZ * 1e3
PATIENCE_S = 10.0


@pytest.fixture
def speaker(sound_output: PulseServer) -> Iterator[Speaker]:
    opened = Speaker()
    opened.open()
    yield opened
    opened.close()


def cue(sound: str, kind: CueKind = CueKind.OUT_OF_BAND) -> Cue:
    at_ns = now_ns()
    return Cue(
        kind=kind,
        measure=None,
        side=None,
        sound=sound,
        words="",
        step_number=0,
        captured_ns=at_ns,
        decided_ns=at_ns,
    )


def wait_for(what: Callable[[], bool]) -> None:
    give_up = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < give_up, "it never happened"
        time.sleep(0.005)


def run_python(code: str, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def heard_sound(heard: Heard, first: int) -> tuple[str, float]:
    """Which sound begins near frame ``first``, and by how much its samples are off, in dB.

    The rendered sound is laid over the recording at its best place; the difference is given
    against the sound's own energy.
    """

    def misfit(sound: Samples) -> float:
        best = np.inf
        for start in range(max(0, first - 200), first + 1):
            piece = heard.samples[start : start + len(sound)].astype(np.float64)
            if len(piece) == len(sound):
                best = min(best, float(np.sum((piece - sound) ** 2)))
        return 10.0 * float(np.log10(best / np.sum(sound.astype(np.float64) ** 2) + 1e-12))

    misfits = {key: misfit(sound) for key, sound in RENDERED.items()}
    name = min(misfits, key=lambda key: misfits[key])
    return name, misfits[name]


def undisturbed(speaker: Speaker, take: Callable[[], Heard]) -> Heard:
    """A recording during which the device did not run dry; a busy computer gets three tries.

    What the program sends is under test here, not whether the test machine was overloaded.
    """
    for _ in range(3):
        before = speaker.dropouts
        heard = take()
        if speaker.dropouts == before:
            return heard
    pytest.fail("this computer is too busy for sound: the device ran dry in each of three takes")


def test_every_sound_comes_out_as_it_was_rendered(
    speaker: Speaker, sound_output: PulseServer
) -> None:
    """Onset, side and spectrum at once: what is recorded is the rendered sound to -40 dB."""
    played: list[Played] = []

    def take() -> Heard:
        played.clear()
        with sound_output.recorder() as recorder:
            for sound in SOUNDS:
                time.sleep(0.2)
                speaker.play(cue(sound))
                time.sleep(SOUNDS[sound].length_s + 0.1)
                played.extend(speaker.drain_played())
            return recorder.finish()

    heard = undisturbed(speaker, take)
    bursts = heard.bursts(gap_s=0.1)
    assert len(bursts) == len(SOUNDS)
    for sound, (first, last), one in zip(SOUNDS, bursts, played, strict=True):
        name, misfit_db = heard_sound(heard, first)
        assert name == sound
        assert misfit_db < -40.0
        left, right = np.sum(heard.samples[first:last].astype(np.float64) ** 2, axis=0)
        if sound.endswith("_left"):
            assert left > 3.0 * right
        if sound.endswith("_right"):
            assert right > 3.0 * left
        # Onset: soon after the decision, and when Played says (both stamps within the
        # recorder's own uncertainty of some ms).
        latency_ms = (heard.at_ns(first) - one.decided_ns) / 1e6
        stated_ms = (one.sounded_ns - one.decided_ns) / 1e6
        print(f"{sound}: decision to sound {latency_ms:.1f} ms, stated {stated_ms:.1f} ms")
        assert 0.0 < latency_ms < 60.0
        assert abs(latency_ms - stated_ms) < 30.0


def test_beats_are_even_and_take_turns(speaker: Speaker, sound_output: PulseServer) -> None:
    spm = 173.0

    def take() -> Heard:
        with sound_output.recorder() as recorder:
            speaker.set_beat(spm)
            time.sleep(15.0)
            speaker.set_beat(None)
            time.sleep(2.1)
            return recorder.finish()

    heard = undisturbed(speaker, take)
    bursts = heard.bursts()
    assert len(bursts) >= 40
    names = [heard_sound(heard, first)[0] for first, _ in bursts]
    assert names == [("beat_left", "beat_right")[n % 2] for n in range(len(names))]
    intervals_ms = np.diff([first for first, _ in bursts]) / RATE_HZ * 1e3
    mean_ms, jitter_ms = float(np.mean(intervals_ms)), float(np.std(intervals_ms))
    print(f"{len(bursts)} beats: interval {mean_ms:.3f} ms, SD {jitter_ms:.3f} ms")
    assert jitter_ms <= 1.0
    assert mean_ms == pytest.approx(60_000.0 / spm, abs=0.2)


def test_a_tempo_change_is_heard_without_click_or_double_beat(
    speaker: Speaker, sound_output: PulseServer
) -> None:
    def take() -> Heard:
        with sound_output.recorder() as recorder:
            for spm in (160.0, 168.0, 164.0, 172.0):
                speaker.set_beat(spm)
                time.sleep(2.53)
            speaker.set_beat(None)
            time.sleep(2.1)
            return recorder.finish()

    heard = undisturbed(speaker, take)
    bursts = heard.bursts()
    intervals = np.diff([first for first, _ in bursts]) / RATE_HZ
    assert np.all(intervals > 60.0 / 172.0 - 0.002)
    assert np.all(intervals < 60.0 / 160.0 + 0.002)
    for first, last in bursts:
        assert last - first < 0.05 * RATE_HZ
    jump = np.max(np.abs(np.diff(heard.samples, axis=0)))
    assert jump < 1.2 * np.max(np.abs(np.diff(RENDERED["beat_right"], axis=0)))


def test_stop_silences_within_a_block_and_the_sinks_own_buffer(
    speaker: Speaker, sound_output: PulseServer
) -> None:
    with sound_output.recorder() as recorder:
        speaker.set_beat(200.0)
        speaker.play(cue("fault", CueKind.FAULT))
        wait_for(lambda: bool(speaker.drain_played()))
        time.sleep(0.4)
        asked_ns = now_ns()
        speaker.stop(announce=False)
        time.sleep(0.3)
        speaker.play(cue("out_low"))
        speaker.set_beat(180.0)
        time.sleep(1.5)
        heard = recorder.finish()
    loud = np.flatnonzero(np.any(heard.samples != 0.0, axis=1))
    silent_ms = (heard.at_ns(int(loud[-1])) - asked_ns) / 1e6
    print(f"stop() to the last sample that is not silent: {silent_ms:.1f} ms")
    # One block and the device's buffer of two more, the fade, and the recorder's own delay.
    assert 0.0 < silent_ms < 3 * BLOCK_MS + FADE_S * 1e3 + 20.0
    fault = np.max(np.abs(np.diff(RENDERED["fault"], axis=0)))
    beat = np.max(np.abs(np.diff(RENDERED["beat_right"], axis=0)))
    assert np.max(np.abs(np.diff(heard.samples, axis=0))) < 1.2 * (fault + beat)


def test_an_announced_stop_is_heard_to_its_end_even_if_closed_at_once(
    sound_output: PulseServer,
) -> None:
    speaker = Speaker()
    speaker.open()
    with sound_output.recorder() as recorder:
        speaker.set_beat(180.0)
        time.sleep(1.0)
        asked_ns = now_ns()
        speaker.stop(announce=True)
        speaker.close()
        time.sleep(0.2)
        heard = recorder.finish()
    first, _ = heard.bursts(gap_s=0.1)[-1]
    name, misfit_db = heard_sound(heard, first)
    assert name == "stop"
    assert misfit_db < -40.0
    assert (heard.at_ns(first) - asked_ns) / 1e6 == pytest.approx(430.0, abs=40.0)
    quiet = heard.samples[heard.frame_at(asked_ns + 60_000_000) : first - 100]
    assert len(quiet) > 0.25 * RATE_HZ
    assert not quiet.any()
    assert [played.kind for played in speaker.drain_played()] == [CueKind.STOP]


def test_the_fault_sound_comes_by_itself_when_the_heartbeat_ceases(
    speaker: Speaker, sound_output: PulseServer
) -> None:
    with sound_output.recorder() as recorder:
        speaker.set_beat(180.0)
        for _ in range(10):
            speaker.heartbeat(now_ns())
            time.sleep(0.1)
        last_ns = now_ns()
        speaker.heartbeat(last_ns)
        time.sleep(2.6)
        heard = recorder.finish()
    (fault,) = [b for b in heard.bursts(gap_s=0.1) if b[1] - b[0] > RATE_HZ]
    name, misfit_db = heard_sound(heard, fault[0])
    assert name == "fault"
    assert misfit_db < -40.0
    after_ms = (heard.at_ns(fault[0]) - last_ns) / 1e6
    before = [b for b in heard.bursts() if b[1] < fault[0] - 100]
    quiet_ms = (heard.at_ns(before[-1][1]) - last_ns) / 1e6
    print(f"last heartbeat to silence {quiet_ms:.0f} ms, to the fault sound {after_ms:.0f} ms")
    assert quiet_ms < HEARTBEAT_LIMIT_NS / 1e6 + 60.0
    assert after_ms == pytest.approx(720.0, abs=50.0)


def test_an_open_speaker_with_nothing_to_say_is_silent(
    speaker: Speaker, sound_output: PulseServer
) -> None:
    with sound_output.recorder() as recorder:
        time.sleep(1.0)
        heard = recorder.finish()
    assert len(heard.samples) > 0.8 * RATE_HZ
    assert not heard.samples.any()
    assert speaker.problem() is None


def test_a_lost_output_becomes_a_problem_in_plain_words(
    sound_output_to_lose: PulseServer,
) -> None:
    speaker = Speaker()
    speaker.open()
    speaker.set_beat(170.0)
    assert speaker.problem() is None
    sound_output_to_lose.kill()
    lost_ns = now_ns()
    wait_for(lambda: speaker.problem() is not None)
    problem = speaker.problem()
    print(f"lost after {(now_ns() - lost_ns) / 1e6:.0f} ms: {problem}")
    assert problem is not None
    assert problem.code == "sound_lost"
    assert "{" not in problem.title + problem.meaning + problem.action
    # Everything can still be called, and closing neither hangs nor raises.
    speaker.play(cue("out_low"))
    speaker.heartbeat(now_ns())
    speaker.stop(announce=True)
    began = time.monotonic()
    speaker.close()
    speaker.close()
    assert time.monotonic() - began < 3.0


HANG = """
import os, signal, sys, time
from feedback.sound.speaker import Speaker
speaker = Speaker()
speaker.open()
speaker.set_beat(170.0)
os.kill(int(sys.argv[1]), signal.SIGSTOP)
began = time.monotonic()
while speaker.problem() is None and time.monotonic() - began < 10.0:
    time.sleep(0.02)
print(speaker.problem().code, time.monotonic() - began)
began = time.monotonic()
speaker.stop(announce=True)
speaker.close()
print(time.monotonic() - began)
"""


def test_an_output_that_hangs_is_told_and_does_not_hold_up_the_end(
    sound_output_to_lose: PulseServer,
) -> None:
    """In a process of its own, which must also come to its end by itself."""
    try:
        done = run_python(HANG, str(sound_output_to_lose.pid))
    finally:
        os.kill(sound_output_to_lose.pid, signal.SIGCONT)
    assert done.returncode == 0
    code, told_s, closed_s = done.stdout.split()
    assert code == "sound_lost"
    assert float(told_s) < 4.0
    assert float(closed_s) < 2.0


def test_two_speakers_one_after_the_other(sound_output: PulseServer) -> None:
    """A new session needs a new speaker: the stop of the old one holds only for the old one."""
    for _ in range(2):
        speaker = Speaker()
        speaker.open()
        with sound_output.recorder() as recorder:
            speaker.play(cue("back", CueKind.BACK_IN_BAND))
            time.sleep(0.5)
            speaker.stop(announce=False)
            speaker.close()
            heard = recorder.finish()
        assert [heard_sound(heard, first)[0] for first, _ in heard.bursts()] == ["back"]


def test_a_device_that_does_not_exist(sound_output: PulseServer) -> None:
    with pytest.raises(UserError) as caught:
        Speaker(device="no such loudspeaker").open()
    assert caught.value.problem.code == "sound_missing"


OPEN = """
from feedback.sound.speaker import open_speaker
speaker, problem = open_speaker()
print(type(speaker).__name__, problem.code, speaker.problem() == problem)
"""


def test_without_any_sound_output_there_is_silence_and_a_reason() -> None:
    cards = Path("/proc/asound/cards")
    if cards.exists() and "no soundcards" not in cards.read_text():
        pytest.skip("this computer has a sound card of its own")
    done = run_python(OPEN, PULSE_SERVER="unix:/nonexistent")
    assert done.stdout.split() == ["SilentSpeaker", "sound_missing", "True"]


def test_without_portaudio_there_is_silence_and_a_reason() -> None:
    hide = "import ctypes.util\nctypes.util.find_library = lambda name: None\n"
    done = run_python(hide + OPEN)
    assert done.stdout.split() == ["SilentSpeaker", "sound_library_missing", "True"]
    assert done.stderr == ""


def test_open_speaker_gives_a_real_one_where_there_is_sound(sound_output: PulseServer) -> None:
    speaker, problem = open_speaker()
    try:
        assert isinstance(speaker, Speaker)
        assert problem is None
    finally:
        speaker.close()


def test_where_the_program_is_to_end_the_stop_sound_is_begun_but_not_waited_for(
    sound_output: PulseServer, speaker: Speaker
) -> None:
    with sound_output.recorder() as recorder:
        began = time.monotonic()
        speaker.stop(announce=True)
        speaker.close(within_s=0.7)
        took_s = time.monotonic() - began
        heard = recorder.finish()
    assert len(heard.bursts()) == 1
    assert took_s < 1.2  # the whole of it ends after 1.5 s
