"""Mixes the beat and the cues into audio blocks; pure, so that the callback's work can be tested.

The callback runs :meth:`Mixer.fill`. Other threads only set single attributes and append to a
deque, which are atomic in CPython, so there is no lock that the audio could wait for.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from enum import IntEnum
from typing import Final

import numpy as np

from feedback.cueing.cue_table import CUES
from feedback.sound.beat import FASTEST_SPM, SLOWEST_SPM, BeatGrid
from feedback.sound.steady import SteadyClock
from feedback.sound.tones import CEILING, Samples
from shared.flow import Cue, CueKind, Played
from shared.units import NS_PER_S

HEARTBEAT_LIMIT_NS: Final = 500_000_000
"""Without a sign of life from a thread that Stop may come through for longer, all is silent."""
FAULT_GAP_S: Final = 0.2
"""Silence before the fault sound, so that a moment's delay only mutes."""
FAULT_EVERY_S: Final = 5.0
STOP_GAP_S: Final = 0.4
"""Silence between a stop and the sound that says so."""
LONGEST_WAIT_NS: Final = 150_000_000
"""A cue that could not be started for longer is dropped: a late cue belongs to another step."""
ALERT_RANK: Final = 3
"""Sounds from this rank on (warning, stop, fault) are never softened."""
SOFT_S: Final = 8.0
"""After :meth:`Mixer.begin_softly` cues and beat take so long to their full loudness."""
SOFT_FROM: Final = 0.25
"""-12 dB: plain to hear in a quiet room, and time to take headphones off that are set too loud."""
FADE_S: Final = 0.002
"""Long enough to end any sound without a click, and far within one block of 256 samples."""


class LifeSign(IntEnum):
    """The threads that are to give signs of life: each is one that Stop may come through."""

    WORK = 0
    """Decides on cues; a raised hand, a fall and all limits stop through it."""
    LINK = 1
    """Hears the screens and consoles."""
    MAIN = 2
    """Hears signals, and notices dead screens and stalled threads."""


class _Voice:
    """One sound on its way out."""

    __slots__ = ("_delay", "_fade", "_fading", "_gain", "_position", "_samples")

    def __init__(self, fade: Samples) -> None:
        self._fade = fade
        self._samples = fade[:0]
        self._position = 0
        self._delay = 0
        self._fading = 0
        self._gain = 1.0

    @property
    def sounding(self) -> bool:
        """Whether there are samples left to play."""
        return self._position < len(self._samples)

    def start(self, samples: Samples, delay: int, gain: float) -> None:
        """Play ``samples`` from ``delay`` frames into the next block on, ``gain`` times as loud."""
        self._samples, self._position, self._delay, self._fading = samples, 0, delay, 0
        self._gain = gain

    def end(self) -> None:
        """Fade to silence from the start of the next block on."""
        if self._fading == 0:
            self._samples = self._samples[: self._position + len(self._fade)]
            self._fading = self._position + 1

    def add_to(self, out: Samples, scratch: Samples) -> None:
        """Add the next samples to ``out`` (n, 2)."""
        if not self.sounding:
            return
        begin, self._delay = self._delay, 0
        here = self._position
        count = min(len(out) - begin, len(self._samples) - here)
        piece = self._samples[here : here + count]
        if self._gain != 1.0:
            piece = np.multiply(piece, np.float32(self._gain), out=scratch[:count])
        if self._fading:
            faded = here - (self._fading - 1)
            piece = np.multiply(piece, self._fade[faded : faded + count], out=scratch[:count])
        target = out[begin : begin + count]
        np.add(target, piece, out=target)
        self._position = here + count


class Mixer:
    """Everything that sounds, at one volume, under one ceiling.

    ``sounds`` holds (n, 2) arrays by the keys that cues name as their sound, rendered at
    ``sample_rate_hz``; ``volume`` is 0 to 1, and alerts keep at least ``alert_least``.
    """

    def __init__(
        self,
        sounds: Mapping[str, Samples],
        sample_rate_hz: int,
        volume: float,
        largest_block: int,
        alert_least: float = 0.0,
    ) -> None:
        self._alert_least = alert_least
        self._volumes = self._checked(volume)
        self._rate_hz = sample_rate_hz
        self._sounds = dict(sounds)
        self._scratch = np.zeros((largest_block, 2), np.float32)
        fade = np.linspace(1.0, 0.0, round(FADE_S * sample_rate_hz), dtype=np.float32)[:, None]
        self._beat_voice = _Voice(fade)
        self._cue_voice = _Voice(fade)
        self._leaving_voice = _Voice(fade)
        self._cue_rank = 0
        self._grid = BeatGrid(sample_rate_hz)
        self._steady = SteadyClock(sample_rate_hz)
        self._position = 0
        self._place = (0.0, 0.0)
        # Written by other threads, read by fill().
        self._cues: deque[Cue] = deque()
        self._beat_spm: float | None = None
        self._heard_ns: list[int | None] = [None for _ in LifeSign]
        self._stop_asked_ns: int | None = None
        self._announce = False
        self._soft_asked = False
        # Written by fill().
        self._soft_from: int | None = None
        self._played: deque[Played] = deque()
        self._fault_at: int | None = None
        self._stop_sound_at: int | None = None
        self._announced = False

    # -- for any thread

    def play(self, cue: Cue) -> None:
        """Sound ``cue`` from the next block on; a cue without a sound is left alone."""
        if not cue.sound:
            return
        if cue.sound not in self._sounds:
            raise KeyError(cue.sound)
        if self._stop_asked_ns is None:
            self._cues.append(cue)

    def set_beat(self, spm: float | None) -> None:
        """Beat at ``spm`` steps/min; None is silence."""
        if spm is not None and not SLOWEST_SPM <= spm <= FASTEST_SPM:
            raise ValueError(f"beat of {spm} steps/min")
        self._beat_spm = spm

    def set_volume(self, volume: float) -> None:
        """Play what begins from here on at ``volume``, 0 to 1; alerts keep their floor."""
        self._volumes = self._checked(volume)

    def _checked(self, volume: float) -> tuple[float, float]:
        """The volume of cues and beat, and that of alerts."""
        if not 0.0 <= volume <= 1.0:
            raise ValueError(f"volume must be 0 to 1, not {volume}")
        return volume, max(volume, self._alert_least)

    def heartbeat(self, now_ns: int, thread: LifeSign = LifeSign.WORK) -> None:
        """Sign of life of a thread; the watch over it begins with the first."""
        self._heard_ns[thread] = now_ns

    def begin_softly(self) -> None:
        """Let cues and beat begin softly from here on; warning, stop and fault stay as they are."""
        self._soft_asked = True

    def stop(self, announce: bool, now_ns: int) -> None:
        """Silence for good, from the next block on; with ``announce`` the stop sound follows.

        Latched: nothing undoes it. A later call may still add the announcement.
        """
        if announce:
            self._announce = True
        if self._stop_asked_ns is None:
            self._stop_asked_ns = now_ns

    def is_announcing(self) -> bool:
        """Whether a stop sound is still to come or to end."""
        asked = self._stop_asked_ns is not None and self._announce
        return asked and (not self._announced or self._cue_voice.sounding)

    def drain_played(self) -> list[Played]:
        """What has begun to sound since the last call, oldest first.

        A fault sound carries the last sign of life as ``captured_ns``, a stop sound the time
        at which the stop was asked for.
        """
        played: list[Played] = []
        while self._played:
            played.append(self._played.popleft())
        return played

    # -- for the audio callback alone

    def fill(self, out: Samples, now_ns: int, sounds_at_ns: int) -> None:
        """Write the next block into ``out`` (n, 2), which may hold anything before.

        ``now_ns`` is the present on the station's clock, ``sounds_at_ns`` the time at which the
        first frame of the block leaves the computer.
        """
        out.fill(0.0)
        self._place = self._steady.place(len(out), sounds_at_ns)
        if self._stop_asked_ns is not None:
            self._go_on_stopped(self._stop_asked_ns, len(out), sounds_at_ns)
        elif (
            heard_ns := self._longest_ago()
        ) is not None and now_ns - heard_ns > HEARTBEAT_LIMIT_NS:
            self._go_on_without_heartbeat(heard_ns, len(out), now_ns, sounds_at_ns)
        else:
            self._go_on(len(out), now_ns, sounds_at_ns)
        for voice in (self._beat_voice, self._cue_voice, self._leaving_voice):
            voice.add_to(out, self._scratch)
        np.minimum(out, CEILING, out=out)
        np.maximum(out, -CEILING, out=out)
        self._position += len(out)

    def _longest_ago(self) -> int | None:
        """When that thread was heard that has been silent for longest; None: none is watched."""
        oldest_ns = None
        for heard_ns in self._heard_ns:
            if heard_ns is not None and (oldest_ns is None or heard_ns < oldest_ns):
                oldest_ns = heard_ns
        return oldest_ns

    def _go_on(self, frames: int, now_ns: int, sounds_at_ns: int) -> None:
        if self._fault_at is not None:
            self._fault_at = None
            self._cue_voice.end()
        if self._soft_asked:
            self._soft_asked = False
            self._soft_from = self._position
        chosen = self._choose_cue(now_ns)
        if chosen is not None:
            self._start(chosen.kind, chosen.sound, 0)
            self._note(chosen.kind, chosen.captured_ns, chosen.decided_ns, sounds_at_ns, 0)
        start, length = self._place
        self._grid.set_tempo(self._beat_spm, start)
        beat = self._grid.take(start, length)
        if beat is not None:
            after, left = beat
            offset = min(round(after * frames / length), frames - 1)
            beat_sound = self._sounds["beat_left" if left else "beat_right"]
            self._beat_voice.start(beat_sound, offset, self._volumes[0] * self._softness())

    def _go_on_stopped(self, asked_ns: int, frames: int, sounds_at_ns: int) -> None:
        if self._stop_sound_at is None:
            self._silence()
            self._stop_sound_at = self._position + round(STOP_GAP_S * self._rate_hz)
        ahead = max(0, self._stop_sound_at - self._position)
        if self._announce and not self._announced and ahead < frames:
            self._start(CueKind.STOP, CUES[CueKind.STOP].sound, ahead)
            self._note(CueKind.STOP, asked_ns, asked_ns, sounds_at_ns, ahead)
            self._announced = True

    def _go_on_without_heartbeat(
        self, heard_ns: int, frames: int, now_ns: int, sounds_at_ns: int
    ) -> None:
        self._cues.clear()
        if self._fault_at is None:
            self._silence()
            self._fault_at = self._position + round(FAULT_GAP_S * self._rate_hz)
        ahead = self._fault_at - self._position
        if ahead < frames:
            self._start(CueKind.FAULT, CUES[CueKind.FAULT].sound, ahead)
            self._note(CueKind.FAULT, heard_ns, now_ns, sounds_at_ns, ahead)
            self._fault_at += round(FAULT_EVERY_S * self._rate_hz)

    def _choose_cue(self, now_ns: int) -> Cue | None:
        """The newest waiting cue of the highest rank, if it may sound now."""
        chosen: Cue | None = None
        least = self._cue_rank if self._cue_voice.sounding else 0
        while self._cues:
            cue = self._cues.popleft()
            rank = CUES[cue.kind].rank
            if rank >= least and now_ns - cue.decided_ns <= LONGEST_WAIT_NS:
                chosen, least = cue, rank
        return chosen

    def _start(self, kind: CueKind, sound: str, offset: int) -> None:
        """Begin a sound; one that is still sounding gives way. Only one cue at a time."""
        self._cue_voice.end()
        self._cue_voice, self._leaving_voice = self._leaving_voice, self._cue_voice
        self._cue_rank = CUES[kind].rank
        volume, alerts = self._volumes
        gain = alerts if self._cue_rank >= ALERT_RANK else volume * self._softness()
        self._cue_voice.start(self._sounds[sound], offset, gain)

    def _softness(self) -> float:
        """How loud a cue or beat is that begins now, against its full loudness."""
        if self._soft_from is None:
            return 1.0
        gone = (self._position - self._soft_from) / (SOFT_S * self._rate_hz)
        return min(1.0, SOFT_FROM + (1.0 - SOFT_FROM) * gone)

    def _silence(self) -> None:
        self._cues.clear()
        self._grid.set_tempo(None, self._place[0])
        self._beat_voice.end()
        self._cue_voice.end()

    def _note(
        self, kind: CueKind, captured_ns: int, decided_ns: int, sounds_at_ns: int, offset: int
    ) -> None:
        self._played.append(
            Played(
                kind=kind,
                captured_ns=captured_ns,
                decided_ns=decided_ns,
                sounded_ns=sounds_at_ns + offset * NS_PER_S // self._rate_hz,
            )
        )
