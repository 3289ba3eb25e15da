"""The sound output: one always-open PortAudio stream around the mixer, and its silent stand-in."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterable
from typing import Any, Final

import numpy as np

from feedback.sound.apart import run_apart
from feedback.sound.mixer import LifeSign, Mixer
from feedback.sound.outclock import OutputClock
from feedback.sound.speech import load_speech
from feedback.sound.tones import DEFAULT_VOLUME, PITCHES, SOUNDS, Samples, render_all
from shared.clock import now_ns
from shared.flow import Cue, Played
from shared.language import told
from shared.problems import Problem, UserError, describe
from shared.units import NS_PER_S

BLOCK: Final = 256
"""Frames in one audio block: 5.3 ms at 48 kHz."""
_USUAL_RATE_HZ: Final = 48_000
_LOST_AFTER_NS: Final = 3 * NS_PER_S
"""Longer than any device takes to go on after it ran dry (PulseAudio's null sink: up to 2 s)."""
_STARTED_BLOCKS: Final = 4
"""The first two or three only fill the device's buffer; this many show that it plays."""
_START_LIMIT_S: Final = 4.0
_OPEN_LIMIT_S: Final = 10.0
_CLOSE_LIMIT_S: Final = 1.0
_SWITCH_INTERVAL_S: Final = 0.001
"""How long a busy Python thread may keep the callback waiting (5 ms, one block, by default)."""
_LAST_SOUND_S: Final = 3.0
"""How long close() waits, at most, for a stop sound to end."""


class Speaker:
    """Plays cues and the beat. Its methods may be called from any thread.

    ``volume`` is 0 to 1 and only turns down from the loudness limits of
    :mod:`feedback.sound.tones`; ``alert_least`` is the volume under which alerts are never turned
    down. ``device`` is a name or number known to PortAudio; None takes the system's default output.
    ``speech`` are the spoken lines to have ready, by sound key.
    """

    def __init__(
        self,
        volume: float = DEFAULT_VOLUME,
        device: int | str | None = None,
        speech: Iterable[str] = (),
        alert_least: float = 0.0,
    ) -> None:
        if not 0.0 <= volume <= 1.0:
            raise ValueError(f"volume must be 0 to 1, not {volume}")
        self._volume = volume
        self._alert_least = alert_least
        self.volume_percent = 100
        """Of that volume."""
        self._device = device
        self._speech = tuple(speech)
        self._mixer: Mixer | None = None
        self._clock = OutputClock(0)
        self._stream: Any = None
        self._abort: type[Exception] = Exception
        self._both_sides = np.zeros((BLOCK, 2), np.float32)
        self._blocks = 0
        self._dropouts = 0
        self._last_block_ns = 0
        self._failure: str | None = None
        self._ended = False
        self._closing = False
        self._stopped_ns: int | None = None

    def open(self) -> None:
        """Open the device and start the stream, which stays open and silent between sounds.

        Raises UserError: ``sound_library_missing`` without PortAudio, ``sound_missing`` without
        a usable output. Returns once the device plays, so that the first cue is not lost.
        """
        sys.setswitchinterval(min(sys.getswitchinterval(), _SWITCH_INTERVAL_S))
        try:
            run_apart(self._open_stream, _OPEN_LIMIT_S)
        except TimeoutError as error:
            raise UserError("sound_missing", details="the sound system hangs") from error
        give_up_ns = now_ns() + round(_START_LIMIT_S * NS_PER_S)
        while self._blocks < _STARTED_BLOCKS:
            if self._ended or now_ns() > give_up_ns:
                self._abandon()
                raise UserError("sound_missing", details="the device plays nothing")
            time.sleep(0.005)

    def _open_stream(self) -> None:
        sounddevice = _load_sounddevice()
        try:
            self._start_stream(sounddevice)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise UserError("sound_missing", details=str(error)) from error

    def _start_stream(self, sounddevice: Any) -> None:
        info = sounddevice.query_devices(self._device, "output")
        channels = min(2, info["max_output_channels"])
        rate_hz = _choose_rate(sounddevice, self._device, channels, info["default_samplerate"])
        sounds = render_all(rate_hz, SOUNDS | PITCHES)
        sounds |= load_speech(rate_hz, self._speech)
        self._mixer = Mixer(sounds, rate_hz, self._volume_now(), BLOCK, self._alert_least)
        self._abort = sounddevice.CallbackAbort
        self._stream = sounddevice.OutputStream(
            samplerate=rate_hz,
            blocksize=BLOCK,
            device=self._device,
            channels=channels,
            dtype="float32",
            latency="low",
            callback=self._fill_block,
            finished_callback=self._note_end,
        )
        self._clock = OutputClock(round(self._stream.latency * NS_PER_S))
        self._last_block_ns = now_ns()
        self._stream.start()

    def _fill_block(self, outdata: Samples, frames: int, stamps: Any, status: Any) -> None:
        now = now_ns()
        if status.output_underflow:
            self._dropouts += 1
        try:
            at_ns = self._clock.sounds_at_ns(now, stamps.currentTime, stamps.outputBufferDacTime)
            if outdata.shape[1] == 2:
                self._opened.fill(outdata, now, at_ns)
            else:
                both = self._both_sides[:frames]
                self._opened.fill(both, now, at_ns)
                np.mean(both, axis=1, keepdims=True, out=outdata)
        except Exception as error:
            # Nobody above would show it in plain words: fall silent, and say so in problem().
            outdata.fill(0.0)
            self._failure = repr(error)
            raise self._abort from error
        self._last_block_ns = now
        self._blocks += 1

    def _note_end(self) -> None:
        self._ended = True

    @property
    def _opened(self) -> Mixer:
        if self._mixer is None:
            raise RuntimeError("the speaker has not been opened")
        return self._mixer

    def play(self, cue: Cue) -> None:
        """Sound ``cue`` with the next block; nothing after a stop."""
        self._opened.play(cue)

    def set_beat(self, spm: float | None) -> None:
        """Beat at ``spm`` steps/min, left and right in turn; None is silence."""
        self._opened.set_beat(spm)

    def begin_softly(self) -> None:
        """Let cues and beat begin softly and come to their loudness within 8 s."""
        self._opened.begin_softly()

    def set_volume_percent(self, percent: int) -> None:
        """Play at ``percent`` of the volume from the next sound on, also before the opening."""
        self.volume_percent = percent
        if self._mixer is not None:
            self._mixer.set_volume(self._volume_now())

    def _volume_now(self) -> float:
        return self._volume * self.volume_percent / 100.0

    def heartbeat(self, now_ns: int, thread: LifeSign = LifeSign.WORK) -> None:
        """Sign of life of a thread. 500 ms without one: silence, then the fault sound."""
        self._opened.heartbeat(now_ns, thread)

    def stop(self, announce: bool) -> None:
        """Silence within one audio block, latched; with ``announce`` the stop sound follows.

        What the device has taken over already still sounds: a few ms on most computers.
        """
        at_ns = now_ns()
        self._stopped_ns = self._stopped_ns or at_ns
        self._opened.stop(announce, at_ns)

    def drain_played(self) -> list[Played]:
        """What has begun to sound since the last call, oldest first."""
        return self._opened.drain_played()

    def problem(self) -> Problem | None:
        """``sound_lost`` once the device no longer takes sound; None while all is well."""
        if self._stream is None or self._closing:
            return None
        if self._failure is not None:
            return describe(
                "sound_lost", why=told("an error in the program"), details=self._failure
            )
        if self._ended:
            return describe("sound_lost", why=told("the device was closed or unplugged"))
        if now_ns() - self._last_block_ns > _LOST_AFTER_NS:
            return describe("sound_lost", why=told("the device takes no more sound"))
        return None

    @property
    def dropouts(self) -> int:
        """How often the device ran dry, a short gap each, because the computer was too busy."""
        return self._dropouts

    def close(self, within_s: float | None = None) -> None:
        """Let a stop sound end, then close the device. May be called more than once.

        ``within_s``: cut the stop sound short so long after the stop; None: let it end.
        """
        if self._stream is None:
            return
        give_up_ns = now_ns() + round(_LAST_SOUND_S * NS_PER_S)
        if within_s is not None and self._stopped_ns is not None:
            give_up_ns = self._stopped_ns + round(within_s * NS_PER_S)
        while self._opened.is_announcing() and self.problem() is None and now_ns() < give_up_ns:
            time.sleep(0.02)
        if self.problem() is None:
            time.sleep(self._stream.latency)
        self._abandon()

    def _abandon(self) -> None:
        self._closing = True
        stream, self._stream = self._stream, None

        def end() -> None:
            stream.abort(ignore_errors=True)
            stream.close(ignore_errors=True)

        # A device that hangs is left behind.
        with contextlib.suppress(TimeoutError):
            run_apart(end, _CLOSE_LIMIT_S)


class SilentSpeaker:
    """Stands in where there is no sound output or none is wanted; same methods as Speaker."""

    def __init__(self, problem: Problem | None = None) -> None:
        """``problem``: why there is no sound, None when none was wanted."""
        self._problem = problem
        self.volume_percent = 100
        """Kept for when it is asked for; there is nothing to hear."""
        self._played: list[Played] = []
        self._stopped = False

    def play(self, cue: Cue) -> None:
        """Count ``cue`` as played at the time of its decision; nothing after a stop."""
        if cue.sound and not self._stopped:
            self._played.append(
                Played(
                    kind=cue.kind,
                    captured_ns=cue.captured_ns,
                    decided_ns=cue.decided_ns,
                    sounded_ns=cue.decided_ns,
                )
            )

    def set_beat(self, spm: float | None) -> None:
        """Do nothing: there is nothing to hear."""

    def begin_softly(self) -> None:
        """Do nothing: there is nothing to hear."""

    def set_volume_percent(self, percent: int) -> None:
        """Keep it; there is nothing to hear."""
        self.volume_percent = percent

    def heartbeat(self, now_ns: int, thread: LifeSign = LifeSign.WORK) -> None:
        """Do nothing: there is nothing to fall silent."""

    def stop(self, announce: bool) -> None:  # noqa: ARG002 - the same call as Speaker's
        """Take no more cues."""
        self._stopped = True

    def drain_played(self) -> list[Played]:
        """What would have sounded since the last call, oldest first."""
        played, self._played = self._played, []
        return played

    def problem(self) -> Problem | None:
        """Why there is no sound; None when none was wanted."""
        return self._problem

    @property
    def dropouts(self) -> int:
        """Always 0."""
        return 0

    def close(self, within_s: float | None = None) -> None:
        """Do nothing: no device is open."""


AnySpeaker = Speaker | SilentSpeaker


def open_speaker(
    volume: float = DEFAULT_VOLUME,
    speech: Iterable[str] = (),
    *,
    alert_least: float = 0.0,
    percent: int = 100,
    device: str = "",
) -> tuple[AnySpeaker, Problem | None]:
    """An open Speaker, or a SilentSpeaker and the problem to show when there is no sound.

    ``percent``: at how much of ``volume`` it begins. ``device``: which output; empty: the system's.
    """
    speaker = Speaker(volume, device or None, speech=speech, alert_least=alert_least)
    speaker.set_volume_percent(percent)
    try:
        speaker.open()
    except UserError as error:
        silent = SilentSpeaker(error.problem)
        silent.set_volume_percent(percent)
        return silent, error.problem
    return speaker, None


def output_names() -> tuple[str, ...]:
    """The sound outputs of this computer, as :class:`Speaker` takes them; empty without any.

    Raises UserError ``sound_library_missing`` or ``sound_missing`` without PortAudio.
    """
    sounddevice = _load_sounddevice()
    names = [
        str(one["name"]) for one in sounddevice.query_devices() if one["max_output_channels"] > 0
    ]
    return tuple(dict.fromkeys(names))


def _load_sounddevice() -> Any:
    """The sounddevice module, which looks for PortAudio and starts it when first imported."""
    try:
        import sounddevice
    except OSError as error:
        raise UserError("sound_library_missing", details=str(error)) from error
    except Exception as error:
        # PortAudio would not start; the error's class is out of reach without the module.
        raise UserError("sound_missing", details=repr(error)) from error
    return sounddevice


def _choose_rate(
    sounddevice: Any, device: int | str | None, channels: int, device_rate_hz: float
) -> int:
    """48 kHz where the device takes it, since most run at it; else the device's own rate."""
    try:
        sounddevice.check_output_settings(
            device, channels, dtype="float32", samplerate=_USUAL_RATE_HZ
        )
    except (sounddevice.PortAudioError, ValueError):
        return round(device_rate_hz)
    return _USUAL_RATE_HZ
