"""Beltside against the plain alternative, on the same clip in the same run, quiet and under load.

Both play the same cue about every fifth step into the same recorded output, with a window open on
the same display. Load is one or two processes that only count, on a computer of two cores.

The plain loop takes the foremost point of an ankle for the contact. That comes 42 to 56 ms before
the true one in these clips, so its sound comes early by so much, and a value read there is not the
value at contact. What it misses and what it adds shows in the steps found. Beltside first learns
the stride for about three seconds and finds no step in them.
"""

from __future__ import annotations

import contextlib
import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from tests.accuracy.tracks import CLIPS, truth_of
from tests.bench.chain import onsets_of, steps_of
from tests.bench.hearing import finish
from tests.bench.result import Line, spread_ms
from tests.bench.stage import Stage, always_out, play
from tests.rendered.truth import Truth

CLIP = "side_06_long"
SECONDS = 45.0
BUSY = "while True: pass"
LATEST_NS = 600_000_000
NEAR_NS = 250_000_000
"""A sound belongs to the last contact within this before it, or to none."""
EARLY_NS = 60_000_000
"""The plain rule takes a contact up to so much too early."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """The two in turn, first alone and then with busy processes beside them."""
    clip = CLIPS / f"{CLIP}.mp4"
    seconds = 6.0 if stage.quick else SECONDS
    figures: dict[str, Any] = {}
    stage.display()
    for busy in (0,) if stage.quick else (0, 1, 2):
        with busy_processes(busy):
            figures[f"beltside_busy_{busy}"] = beltside(stage, clip, seconds)
            figures[f"plain_busy_{busy}"] = plain(stage, clip, seconds)
    lines = []
    for name, found in figures.items():
        program, _, busy_count = name.split("_")
        who = f"{program}, {busy_count} busy"
        lines.append(Line(f"{who}: frame to sound", _told(found["frame_to_sound_ms"])))
        lines.append(Line(f"{who}: contact to sound", _told(found["contact_to_sound_ms"])))
        lost = f"{found['lost']} of {found['frames'] + found['lost']}"
        lines.append(Line(f"{who}: frames lost", lost))
        steps = f"{found['steps']} of {found['true_steps']}"
        lines.append(Line(f"{who}: steps found", steps))
    return lines, figures


def _told(spread: dict[str, float]) -> str:
    return f"p50 {spread['p50']:.0f}, p99 {spread['p99']:.0f}, SD {spread['sd']:.1f} ms"


@contextlib.contextmanager
def busy_processes(count: int) -> Iterator[None]:
    """So many processes that do nothing but count."""
    busy = [subprocess.Popen([sys.executable, "-c", BUSY]) for _ in range(count)]
    try:
        yield
    finally:
        for one in busy:
            one.kill()
            one.wait()


def beltside(stage: Stage, clip: Path, seconds: float) -> dict[str, Any]:
    """A whole session with its runner's screen."""
    played = play(stage, clip, always_out(), with_panel=False, seconds=seconds)
    chains = steps_of(truth_of(clip), played)
    cued = [chain for chain in chains if chain.onset_ns is not None]
    cues = sum(cue.sound == "out_low" for cue, _ in played.handed)
    return {
        "frame_to_sound_ms": spread_ms([c.onset_ns - c.arrived_ns for c in cued if c.onset_ns]),
        "contact_to_sound_ms": spread_ms([c.onset_ns - c.contact_ns for c in cued if c.onset_ns]),
        "frame_to_done_ms": spread_ms(played.decisions_ns),
        "frames": len(played.seen),
        "lost": played.outcome.dropped,
        "steps": len(chains),
        "true_steps": _true_steps(truth_of(clip), seconds),
        "cues": cues,
        "cues_heard": len(cued),
        "device_ran_dry": played.dropouts,
    }


def plain(stage: Stage, clip: Path, seconds: float) -> dict[str, Any]:
    """The plain loop in a process of its own."""
    command = [sys.executable, "-m", "tests.bench.plain_loop", str(clip), f"{seconds}"]
    with stage.sound.recorder() as recorder:
        environment = {k: v for k, v in os.environ.items() if k != "QT_QPA_PLATFORM"}
        done = subprocess.run(
            command, env=environment, capture_output=True, text=True, timeout=seconds + 60
        )
        time.sleep(0.5)
        heard = finish(recorder)
    if done.returncode != 0:
        raise SystemExit(f"The plain loop failed:\n{done.stderr[-2000:]}")
    found = json.loads(done.stdout)
    onsets = onsets_of(heard)
    cues = [(arrived, at) for _, arrived, _, at in found["frames"] if at is not None]
    sounds = [(arrived, _onset(onsets, at)) for arrived, at in cues]
    to_sound = [onset - arrived for arrived, onset in sounds if onset is not None]
    late = [_since_contact(truth_of(clip), found["zero_ns"], o) for _, o in sounds if o is not None]
    at_step = [span for span in late if span is not None]
    return {
        "frame_to_sound_ms": spread_ms(to_sound),
        "contact_to_sound_ms": spread_ms(at_step),
        "frame_to_done_ms": spread_ms([done - arrived for _, arrived, done, _ in found["frames"]]),
        "frames": len(found["frames"]),
        "lost": found["lost"],
        "steps": found["steps"],
        "true_steps": _true_steps(truth_of(clip), seconds),
        "cues": len(cues),
        "cues_heard": len(to_sound),
        "cues_soon_after_a_step": len(at_step),
    }


def _true_steps(truth: Truth, seconds: float) -> int:
    """Steps in the clip's first seconds."""
    return sum(step["contact_s"] < seconds for step in truth.steps)


def _onset(onsets: list[int], at_ns: int) -> int | None:
    """The sound of a cue that was handed over by ``at_ns``: play() has opened the device then."""
    near = [onset for onset in onsets if at_ns - NEAR_NS < onset < at_ns + LATEST_NS]
    return min(near, key=lambda onset: abs(onset - at_ns), default=None)


def _since_contact(truth: Truth, zero_ns: int, at_ns: int) -> int | None:
    """Time since the last true contact; None when there was none for longer."""
    contacts_ns = np.array([zero_ns + round(s["contact_s"] * 1e9) for s in truth.steps])
    place = int(np.searchsorted(contacts_ns, at_ns + EARLY_NS)) - 1
    if place < 0 or at_ns - contacts_ns[place] > NEAR_NS:
        return None
    return int(at_ns - contacts_ns[place])
