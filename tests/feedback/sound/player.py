"""A mixer asked for block after block with plain numbers for time, and what it gave."""

from __future__ import annotations

import numpy as np

from feedback.sound.mixer import FADE_S, Mixer
from feedback.sound.tones import Samples, render_all
from shared.flow import Cue, CueKind

RATE_HZ = 48_000
BLOCK = 256
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
        self.alive_ns = 0
        """The last sign of life."""

    def run(self, seconds: float, alive: bool = False) -> Samples:
        """Ask for whole blocks for about this time and give them as one array."""
        before = len(self.blocks)
        for _ in range(round(seconds * RATE_HZ / BLOCK)):
            if alive:
                self.alive_ns = self.now_ns
                self.mixer.heartbeat(self.alive_ns)
            out = np.full((BLOCK, 2), np.nan, np.float32)
            self.mixer.fill(out, self.now_ns, self.now_ns + LATENCY_NS)
            self.blocks.append(out)
            self.now_ns = self.begun_ns + len(self.blocks) * BLOCK * 1_000_000_000 // RATE_HZ
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
