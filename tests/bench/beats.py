"""The beat as it was recorded: its tempo, its jitter, and what a change of tempo sounds like.

The beat comes from the whole station at work on a clip: pose model, screens and all. Each beat is
found to the sample by laying the rendered sounds over the recording; what is left of the recording
when all beats are taken out of it would be a click, and there must be none.
"""

from __future__ import annotations

import itertools
import time
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np

from feedback.sound.speaker import AnySpeaker
from feedback.sound.tones import DEFAULT_VOLUME, Samples, render_all
from feedback.station.station import Station
from shared.clock import now_ns
from shared.targets import Athlete, CueStyle
from tests.accuracy.tracks import CLIPS
from tests.bench.result import Line, at_most
from tests.bench.stage import Stage, always_out, play
from tests.pulse import RATE_HZ, Heard

TEMPOS = (160.0, 168.0, 172.5, 180.0, 165.0, 190.0, 151.3, 168.0)
TEMPO_S = 8.0
QUICK = ((160.0, 180.0), 2.0)
WARM_UP_S = 4.0
MOST_JITTER_MS = 1.0
CLICK = 1e-4
"""What is left over may reach this: -80 dBFS, which nobody hears beside a beat."""
LATEST_MS = 30.0
"""A change is heard with the next beat; its interval may be off by what the sound takes."""


@dataclass(frozen=True)
class Beat:
    """One beat in the recording."""

    frame: int
    left: bool


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """Several tempos, changed anywhere between two beats, without a pause."""
    tempos, seconds = QUICK if stage.quick else (TEMPOS, TEMPO_S)
    changes: list[tuple[int, float]] = []
    ended_ns: list[int] = []

    def conduct(_station: Station, speaker: AnySpeaker) -> None:
        time.sleep(WARM_UP_S / 4 if stage.quick else WARM_UP_S)
        for number, tempo in enumerate(tempos):
            changes.append((now_ns(), tempo))
            speaker.set_beat(tempo)
            time.sleep(seconds + 0.05 * number)
        speaker.set_beat(None)
        ended_ns.append(now_ns())

    played = play(
        stage,
        CLIPS / "side_06_long.mp4",
        _without_sounds(),
        screens=not stage.quick,
        loop=True,
        seconds=WARM_UP_S + (seconds + 0.5) * len(tempos),
        meanwhile=conduct,
    )
    assert played.heard is not None
    # What comes after is the stop sound.
    upto = played.heard.frame_at(ended_ns[0]) + RATE_HZ // 5
    heard = Heard(played.heard.samples[:upto], played.heard.first_ns)
    found, left_over = find_beats(heard.samples)
    return judge(heard, found, left_over, changes, played.dropouts)


def _without_sounds() -> Athlete:
    athlete = always_out()
    target = msgspec.structs.replace(athlete.targets[0], cues=(CueStyle.WORDS,))
    return msgspec.structs.replace(athlete, targets=(target,))


def find_beats(samples: Samples) -> tuple[list[Beat], Samples]:
    """All beats, and the recording without them."""
    sounds = render_all(RATE_HZ)
    shapes = {left: sounds["beat_left" if left else "beat_right"] for left in (True, False)}
    left_over = samples.astype(np.float64)
    beats = []
    for first, _ in Heard(samples, 0).bursts(gap_s=0.02):
        beat, gain = _best_place(left_over, shapes, first)
        shape = shapes[beat.left]
        left_over[beat.frame : beat.frame + len(shape)] -= gain * shape
        beats.append(beat)
    return beats, left_over.astype(np.float32)


def _best_place(samples: np.ndarray, shapes: dict[bool, Samples], near: int) -> tuple[Beat, float]:
    """Where one of the shapes explains most of what is there, and how loud it is."""
    best, gain, least = Beat(near, left=True), 0.0, np.inf
    for left, shape in shapes.items():
        energy = float(np.sum(shape.astype(np.float64) ** 2))
        for frame in range(max(0, near - 100), near + 2):
            piece = samples[frame : frame + len(shape)]
            if len(piece) < len(shape):
                continue
            size = float(np.sum(piece * shape)) / energy
            misfit = float(np.sum((piece - size * shape) ** 2))
            if misfit < least:
                best, gain, least = Beat(frame, left), size, misfit
    return best, gain


def judge(
    heard: Heard,
    beats: list[Beat],
    left_over: Samples,
    changes: list[tuple[int, float]],
    dropouts: int,
) -> tuple[list[Line], dict[str, Any]]:
    """Intervals by tempo, those across a change, sides, and clicks."""
    frames = np.array([beat.frame for beat in beats])
    intervals_ms = np.diff(frames) / RATE_HZ * 1e3
    tempo_of = _tempos(heard, frames, changes)
    pairs = list(itertools.pairwise(tempo_of))
    even = np.array([a == b for a, b in pairs])
    wanted_ms = np.array([60e3 / b for _, b in pairs])
    off_ms = intervals_ms[even] - wanted_ms[even]
    across = [
        (interval, *sorted((60e3 / a, 60e3 / b)))
        for interval, (a, b) in zip(intervals_ms, pairs, strict=True)
        if a != b
    ]
    jitter_ms = round(float(off_ms.std()), 4)
    odd = sum(not low - LATEST_MS <= found <= high + LATEST_MS for found, low, high in across)
    same_side = sum(a.left == b.left for a, b in itertools.pairwise(beats))
    click = float(np.max(np.abs(left_over)))
    figures = {
        "beats": len(beats),
        "jitter_sd_ms": jitter_ms,
        "interval_off_mean_ms": round(float(off_ms.mean()), 4),
        "interval_off_most_ms": round(float(np.max(np.abs(off_ms))), 4),
        "across_changes_ms": [[round(float(v), 1) for v in one] for one in across],
        "same_side_twice": same_side,
        "left_over_peak": click,
        "beat_peak": float(np.max(np.abs(heard.samples))),
        "dropouts": dropouts,
        "volume": DEFAULT_VOLUME,
    }
    return [
        at_most(f"jitter of {len(beats)} beats, SD", jitter_ms, MOST_JITTER_MS, "ms"),
        Line(
            "interval less 60 s / tempo, mean and most",
            f"{figures['interval_off_mean_ms']:.3f}, {figures['interval_off_most_ms']:.3f} ms",
        ),
        at_most(f"{len(across)} changes of tempo with a double or missing beat", odd, 0, digits=0),
        at_most("two beats in a row on one side", same_side, 0, digits=0),
        at_most("clicks: largest sample that is no beat", click, CLICK, digits=6),
        Line("times the device ran dry", str(dropouts)),
    ], figures


def _tempos(heard: Heard, frames: np.ndarray, changes: list[tuple[int, float]]) -> list[float]:
    """The tempo that each beat comes in: that of the change before it."""
    at = np.array([heard.frame_at(at_ns) for at_ns, _ in changes])
    places = np.maximum(np.searchsorted(at, frames, side="right") - 1, 0)
    return [changes[place][1] for place in places]
