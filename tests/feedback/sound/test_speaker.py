"""The speaker's shell with a made-up sound library, and the silent stand-in."""

from __future__ import annotations

import sys
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from feedback.sound.speaker import BLOCK, SilentSpeaker, Speaker, open_speaker
from feedback.sound.tones import DEFAULT_VOLUME, Samples, render_all
from shared.clock import now_ns
from shared.flow import Cue, CueKind, Played
from shared.problems import UserError, describe


class FakeLibrary:
    """Stands in for sounddevice; its device plays as many blocks as a test asks for."""

    class PortAudioError(Exception):
        """As in the real one."""

    class CallbackAbort(Exception):  # noqa: N818 - the real one's name
        """As in the real one."""

    def __init__(self, channels: int = 2, rates: tuple[int, ...] = (44_100, 48_000)) -> None:
        self.channels = channels
        self.rates = rates
        self.asked: dict[str, Any] = {}
        self.closed = 0
        self.latency = 0.011

    def query_devices(self, device: object, kind: str) -> dict[str, Any]:
        if self.channels == 0:
            raise ValueError("no output device matching")
        return {"max_output_channels": self.channels, "default_samplerate": float(self.rates[0])}

    def check_output_settings(self, *_: object, samplerate: int, **__: object) -> None:
        if samplerate not in self.rates:
            raise self.PortAudioError("invalid sample rate")

    def OutputStream(self, **asked: Any) -> FakeLibrary:  # noqa: N802 - the real one's name
        self.asked = asked
        return self

    def start(self) -> None:
        self.blocks(4)

    def blocks(self, count: int) -> Samples:
        """Let the device take this many blocks; gives them as one array."""
        taken = []
        stamps = SimpleNamespace(currentTime=0.0, outputBufferDacTime=0.0)
        flags = SimpleNamespace(output_underflow=False)
        fill: Callable[..., None] = self.asked["callback"]
        for _ in range(count):
            out = np.full((BLOCK, self.asked["channels"]), 9.0, np.float32)
            taken.append(out)
            fill(out, BLOCK, stamps, flags)
        return np.concatenate(taken)

    def abort(self, ignore_errors: bool) -> None:
        pass

    def close(self, ignore_errors: bool) -> None:
        self.closed += 1


def cue(sound: str, decided_ns: int = 2_000) -> Cue:
    return Cue(
        kind=CueKind.OUT_OF_BAND,
        measure="cadence",
        side=None,
        sound=sound,
        words="",
        step_number=12,
        captured_ns=1_000,
        decided_ns=decided_ns,
    )


def opened(library: FakeLibrary, monkeypatch: pytest.MonkeyPatch) -> Speaker:
    monkeypatch.setitem(sys.modules, "sounddevice", library)
    speaker = Speaker()
    speaker.open()
    return speaker


def test_one_small_stream_at_the_usual_rate(monkeypatch: pytest.MonkeyPatch) -> None:
    library = FakeLibrary()
    speaker = opened(library, monkeypatch)
    asked = library.asked
    assert (asked["samplerate"], asked["blocksize"], asked["channels"]) == (48_000, 256, 2)
    assert asked["latency"] == "low"
    assert speaker.problem() is None
    speaker.close()
    speaker.close()
    assert library.closed == 1


def test_a_device_without_the_usual_rate_gets_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    library = FakeLibrary(rates=(44_100,))
    speaker = opened(library, monkeypatch)
    assert library.asked["samplerate"] == 44_100
    decided_ns = now_ns()
    speaker.play(cue("back", decided_ns))
    out = library.blocks(60)
    wanted = render_all(44_100)["back"] * np.float32(DEFAULT_VOLUME)
    assert np.array_equal(out[: len(wanted)], wanted)
    # Without stamps of the driver its stated latency counts.
    (played,) = speaker.drain_played()
    assert played.sounded_ns - decided_ns >= 11_000_000
    speaker.close()


def test_a_single_loudspeaker_gets_both_sides(monkeypatch: pytest.MonkeyPatch) -> None:
    library = FakeLibrary(channels=1)
    speaker = opened(library, monkeypatch)
    for sound in ("out_low_left", "out_low_right"):
        speaker.play(cue(sound, now_ns()))
        out = library.blocks(100)
        wanted = render_all(48_000)[sound] * np.float32(DEFAULT_VOLUME)
        assert out.shape[1] == 1
        assert np.allclose(out[: len(wanted), 0], wanted.mean(axis=1), atol=1e-7)
        assert not out[len(wanted) :].any()
    speaker.close()


def test_no_output_device(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sounddevice", FakeLibrary(channels=0))
    with pytest.raises(UserError) as caught:
        Speaker().open()
    assert caught.value.problem.code == "sound_missing"
    speaker, problem = open_speaker()
    assert isinstance(speaker, SilentSpeaker)
    assert problem is not None
    assert problem.code == "sound_missing"


def test_an_error_in_the_callback_is_silence_and_a_problem(
    monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    library = FakeLibrary()
    speaker = opened(library, monkeypatch)
    speaker.play(cue("back", now_ns()))

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(speaker._mixer, "fill", broken)
    out = np.full((BLOCK, 2), 9.0, np.float32)
    stamps = SimpleNamespace(currentTime=0.0, outputBufferDacTime=0.0)
    with pytest.raises(FakeLibrary.CallbackAbort):
        library.asked["callback"](out, BLOCK, stamps, SimpleNamespace(output_underflow=False))
    assert not out.any()
    problem = speaker.problem()
    assert problem is not None
    assert problem.code == "sound_lost"
    assert "ZeroDivisionError" in problem.details
    assert "Traceback" not in capfd.readouterr().err
    speaker.close()


def test_dropouts_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    library = FakeLibrary()
    speaker = opened(library, monkeypatch)
    out = np.zeros((BLOCK, 2), np.float32)
    stamps = SimpleNamespace(currentTime=0.0, outputBufferDacTime=0.0)
    for dry in (True, False, True):
        library.asked["callback"](out, BLOCK, stamps, SimpleNamespace(output_underflow=dry))
    assert speaker.dropouts == 2
    speaker.close()


def test_the_silent_speaker_tells_what_would_have_sounded_until_the_stop() -> None:
    silent = SilentSpeaker()
    silent.set_beat(170.0)
    silent.heartbeat(5)
    silent.play(cue("out_low"))
    silent.play(cue(""))
    would = Played(kind=CueKind.OUT_OF_BAND, captured_ns=1_000, decided_ns=2_000, sounded_ns=2_000)
    assert silent.drain_played() == [would]
    assert silent.drain_played() == []
    silent.stop(announce=True)
    silent.play(cue("out_low"))
    assert silent.drain_played() == []
    assert silent.problem() is None
    assert silent.dropouts == 0
    silent.close()


def test_the_silent_speaker_keeps_the_reason() -> None:
    problem = describe("sound_missing")
    assert SilentSpeaker(problem).problem() is problem


@pytest.mark.parametrize("volume", [-0.01, 1.2, float("nan")])
def test_a_volume_outside_its_range_is_refused(volume: float) -> None:
    with pytest.raises(ValueError, match="volume"):
        Speaker(volume)


def test_a_speaker_that_was_not_opened() -> None:
    speaker = Speaker()
    assert speaker.problem() is None
    with pytest.raises(RuntimeError, match="opened"):
        speaker.play(cue("out_low"))
    speaker.close()
