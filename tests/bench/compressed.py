"""Hours of a session as fast as they go, for tests.bench.endurance: landmarks in, record out.

Run: python -m tests.bench.compressed MINUTES. A process of its own, so that its memory is that of
the session alone. One line of JSON on stdout.
"""

from __future__ import annotations

import dataclasses
import json
import os
import sys
import tempfile
import time
from pathlib import Path

from feedback.demo import demo_clip, demo_profile
from feedback.journal.writer import Header, Journal
from feedback.session.interface import CaptureState, Facts, Start
from feedback.session.session import Session
from feedback.station.chart_numbers import Charting
from live.pipeline import Pipeline, Setup
from shared.clock import anchor_now
from shared.flow import Body, Pose, View
from tests.accuracy.tracks import poses_of

FPS = 30
STEP_NS = 10**9 // FPS
LOOKS = 240
MOST_WAITING = 2000
"""Entries that wait for the journal's thread before the run waits for it."""


def main() -> None:
    """Run and tell."""
    frames = round(float(sys.argv[1]) * 60 * FPS)
    profile = demo_profile(View.SIDE)
    athlete = profile.athlete
    poses = poses_of(demo_clip(View.SIDE))
    pipeline = Pipeline(Setup(View.SIDE, athlete.height_cm / 100, athlete.belt_speed_mps))
    session = Session(athlete, View.SIDE)
    charting = Charting()
    facts = Facts(capture=CaptureState.RUNNING, sound_on=True)
    began = time.monotonic()
    memory = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "session.jsonl"
        header = Header(
            versions={},
            anchor=anchor_now(),
            source="compressed",
            view=View.SIDE,
            athlete=athlete,
            athlete_text=profile.text,
            limits={},
        )
        journal = Journal(path, header)
        session.on_command(Start(), 0)
        for number in range(frames):
            at_ns = 10**9 + number * STEP_NS
            pose = _at(poses[number % len(poses)], at_ns, number)
            _one(pipeline, session, charting, facts, journal, pose)
            while number % 100 == 0 and journal._queue.qsize() > MOST_WAITING:
                time.sleep(0.01)
            if number % max(1, frames // LOOKS) == 0:
                memory.append(round(_memory_mb(), 2))
        journal.close(session.summary(at_ns, pipeline.summary()))
        problem = journal.problem()
        size = path.stat().st_size
    out = {
        "minutes": float(sys.argv[1]),
        "took_s": round(time.monotonic() - began, 1),
        "memory_mb": memory,
        "journal_mb": round(size / 1e6, 2),
        "lost_entries": journal._lost,
        "problem": None if problem is None else problem.title,
    }
    sys.stdout.write(json.dumps(out) + "\n")


def _at(pose: Pose, at_ns: int, index: int) -> Pose:
    return dataclasses.replace(pose, captured_ns=at_ns, index=index)


def _one(
    pipeline: Pipeline,
    session: Session,
    charting: Charting,
    facts: Facts,
    journal: Journal,
    pose: Pose,
) -> None:
    """What the work thread does with a frame, and every third time a snapshot."""
    at_ns = pose.captured_ns + 12_000_000
    body = Body(
        captured_ns=pose.captured_ns,
        present=True,
        hand_up=False,
        hips_up=0.9,
        place=0.5,
        camera_moved=False,
        camera_elsewhere=False,
    )
    update = pipeline.update(pose)
    charting.take(update.measures)
    for outputs in (
        session.on_body(body, at_ns),
        session.on_update(update, at_ns),
        session.on_tick(at_ns, facts),
    ):
        for entry in outputs.journal:
            journal.write(entry)
    if pose.index % 3 == 0:
        session.snapshot(at_ns)


def _memory_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


if __name__ == "__main__":
    main()
