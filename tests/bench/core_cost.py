"""What the core costs for each frame, from pose to cue, without the model: a replay of landmarks.

The landmarks are those of the real model on the rendered clips, kept in the cache of
tests.accuracy.tracks. Timed is what the work thread does with a pose: pipeline, session (judgement
and cue) and tick; and apart from it what it does once the cues are out (the mean stride is learnt
anew twice a stride). The clock that the session sees is the clip's own.
"""

from __future__ import annotations

import gc
import time
from typing import Any

from feedback.session.interface import CaptureState, Facts, Start
from feedback.session.session import Session
from live.pipeline import Pipeline, Setup
from shared.flow import Body, Pose, View
from tests.accuracy.tracks import CLIPS, poses_of, truth_of
from tests.bench.result import Line, at_most, spread_ms
from tests.bench.stage import Stage, always_out

CASES = {30: ("side_06_long", "behind_04"), 60: ("side_05", "side_09")}
QUICK = {30: ("side_01_near",)}
MOST_MS = 0.5
DECIDED_AFTER_NS = 12_000_000
"""As long as the pose model takes: what the session is told to be the time."""


def bench(stage: Stage) -> tuple[list[Line], dict[str, Any]]:
    """By frame rate; the first frames, while the stride is being learnt, among them."""
    lines: list[Line] = []
    figures: dict[str, Any] = {}
    for fps, names in (QUICK if stage.quick else CASES).items():
        spans = [span for name in names for span in core_spans(name)]
        found = spread_ms([to_cue for to_cue, _ in spans])
        after = spread_ms([settling for _, settling in spans])
        figures[f"to_cue_{fps}_ms"], figures[f"after_{fps}_ms"] = found, after
        share = 100 * sum(map(sum, spans)) / (len(spans) * 1e9 / fps)
        figures[f"share_{fps}_percent"] = round(share, 2)
        lines += [
            at_most(f"{fps}/s: pose to cue, median", found["p50"], MOST_MS, "ms"),
            Line(
                f"{fps}/s: the same, p99 and worst",
                f"{found['p99']:.2f}, {found['max']:.2f} ms",
            ),
            Line(
                f"{fps}/s: after the cue, p50, p99 and worst",
                f"{after['p50']:.2f}, {after['p99']:.2f}, {after['max']:.2f} ms",
            ),
            Line(f"{fps}/s: both together, share of a core", f"{share:.1f} %"),
        ]
    return lines, figures


def core_spans(name: str) -> list[tuple[int, int]]:
    """Processor time for each frame of a clip, to the cue and after it, ns."""
    clip = CLIPS / f"{name}.mp4"
    meta = truth_of(clip).meta
    view = View(meta["view"])
    pipeline = Pipeline(Setup(view, meta["height_m"], meta["belt_speed_mps"]))
    session = Session(always_out(view), view)
    facts = Facts(capture=CaptureState.RUNNING, sound_on=True)
    session.on_command(Start(), 0)
    poses = poses_of(clip)
    gc.collect()
    return [_one(pipeline, session, facts, pose) for pose in poses]


def _one(pipeline: Pipeline, session: Session, facts: Facts, pose: Pose) -> tuple[int, int]:
    body = Body(
        captured_ns=pose.captured_ns,
        present=pose.people > 0,
        hand_up=False,
        hips_up=0.9,
        place=0.5,
        camera_moved=False,
        camera_elsewhere=False,
    )
    at_ns = pose.captured_ns + DECIDED_AFTER_NS
    # Processor time: what others on the computer do is not the core's doing.
    before_ns = time.thread_time_ns()
    session.on_body(body, at_ns)
    session.on_update(pipeline.update(pose), at_ns)
    session.on_tick(at_ns, facts)
    between_ns = time.thread_time_ns()
    pipeline.settle()
    return between_ns - before_ns, time.thread_time_ns() - between_ns
