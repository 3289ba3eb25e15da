"""Frame arrival to decision on the demo clip, in ms and against the bare pose model; a script.

Run: python -m tests.bench.bench_latency [--seconds 30] [--view side] [--no-screen]

The clip is played as if live through the whole station (screen, link, record, sound where there
is any). Before and after it the pose model alone is timed on the same frames at the same pace,
so that a busy computer can be told from a slow program. One line of JSON on stdout.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from feedback.demo import demo_clip, demo_profile
from feedback.order import Order
from feedback.records.journal import Header, Journal, versions
from feedback.screens.launch import ScreenProcess, spawn_runner_screen
from feedback.sound.speaker import open_speaker
from feedback.station import Station
from live.capture import Capture
from live.frames import FileSource
from live.pose import PoseModel
from shared.clock import anchor_now, now_ns
from shared.latest import Latest
from shared.records import Frame, View

BARE_S = 10.0


def main() -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=30.0)
    parser.add_argument("--view", choices=["side", "behind"], default="side")
    parser.add_argument("--no-screen", action="store_true")
    options = parser.parse_args()
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    view = View(options.view)
    before_ns = list(bare_inference(view))
    whole = whole_loop(view, options.seconds, screen=not options.no_screen)
    after_ns = list(bare_inference(view))
    bare = spread_ms(before_ns + after_ns)
    result = {
        "view": options.view,
        "screen": not options.no_screen,
        "load_average": [round(load, 1) for load in os.getloadavg()],
        "bare_inference_ms": bare,
        **whole,
        "decision_against_bare": {
            key: round(whole["decision_ms"][key] / bare[key], 2) for key in ("p50", "p99")
        },
    }
    sys.stdout.write(json.dumps(result) + "\n")
    return 0


def bare_inference(view: View) -> Iterator[int]:
    """The pose model's time for each frame, with nothing else at work but the camera thread."""
    mailbox: Latest[Frame] = Latest()
    source = FileSource(demo_clip(view), as_live=True, loop=True)
    with PoseModel() as model, Capture(source, mailbox):
        warm_ns = now_ns() + 10**9
        until_ns = warm_ns + int(BARE_S / 2 * 1e9)
        while now_ns() < until_ns:
            frame = mailbox.take(0.1)
            if frame is None:
                continue
            begin_ns = now_ns()
            model.detect(frame)
            if begin_ns > warm_ns:
                yield now_ns() - begin_ns


def whole_loop(view: View, seconds: float, screen: bool) -> dict[str, dict[str, float]]:
    """One session of the demo athlete with everything on."""
    profile = demo_profile(view)
    speaker, _ = open_speaker()
    order = Order(
        athlete=profile.athlete,
        view=view,
        source=FileSource(demo_clip(view), as_live=True, loop=True),
        model=PoseModel(),
        speaker=speaker,
        spawn_screen=spawn if screen else None,
        time_limit_s=seconds,
        demo=True,
        start_at_once=True,
        linger_s=0.0,
    )
    station = Station(order)
    with tempfile.TemporaryDirectory() as folder, contextlib.closing(station):
        station.open_screen()
        header = Header(
            versions=versions(),
            anchor=anchor_now(),
            source="bench",
            view=view,
            athlete=profile.athlete,
            athlete_text=profile.text,
            limits={},
        )
        tally = (outcome := station.run(Journal(Path(folder) / "bench.jsonl", header))).tally
    if outcome.problem is not None:
        raise SystemExit(f"{outcome.problem.title}\n{outcome.problem.details}")
    decisions, inference = np.array(tally.decisions_ns), np.array(tally.inference_ns)
    return {
        "decision_ms": spread_ms(decisions),
        "inference_ms": spread_ms(inference),
        "beside_inference_ms": spread_ms(decisions - inference),
        "frames": {"measured": tally.frames, "dropped": outcome.dropped},
        "cues": {kind.value: count for kind, count in tally.cues.items()},
    }


def spawn(port: int, token: str) -> ScreenProcess:
    return spawn_runner_screen(port, token, windowed=True)


def spread_ms(spans_ns: list[int] | np.ndarray) -> dict[str, float]:
    """Median, 99th percentile and largest, in ms."""
    p50, p99, largest = np.percentile(np.asarray(spans_ns), [50, 99, 100]) / 1e6
    return {"p50": round(p50, 2), "p99": round(p99, 2), "max": round(largest, 2)}


if __name__ == "__main__":
    sys.exit(main())
