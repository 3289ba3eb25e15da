"""A station on the bench: the real threads, with stand-ins for camera, pose model and speaker."""

from __future__ import annotations

import dataclasses
import functools
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from feedback.athlete_files.athletes import find_athlete
from feedback.journal.writer import Header, Journal, Recording, read_journal
from feedback.sound.speaker import SilentSpeaker
from feedback.station.setup import SessionOutcome, StationSetup
from feedback.station.station import Station
from shared.clock import anchor_now, now_ns
from shared.cores import Reserve
from shared.flow import Cue, Frame, Pose, View
from shared.problems import Problem
from tests.live.virtual_runner import take
from tests.rendered.params import RunnerParams

FRAMES_PER_S = 30
PICTURE = np.zeros((4, 4, 3), np.uint8)
RUNNER = RunnerParams(cadence_spm=156.0)


class PacedSource:
    """A camera that gives ``frames`` pictures of nothing and then ends, or breaks."""

    size: tuple[int, int] | None = (4, 4)
    may_return = False

    def __init__(
        self, frames: int = 10_000, broken: bool = False, frames_per_s: int = FRAMES_PER_S
    ) -> None:
        self.nominal_fps: float | None = frames_per_s
        self._frames_per_s = frames_per_s
        self._frames, self._broken, self._given = frames, broken, 0
        self._began_ns: int | None = None

    def describe(self) -> str:
        return "a stand-in camera"

    def open(self) -> None:
        pass

    def read(self) -> Frame | None:
        if self._given >= self._frames:
            if self._broken:
                raise OSError("the driver gave up")
            return None
        self._began_ns = self._began_ns or now_ns()
        due_ns = self._began_ns + self._given * 10**9 // self._frames_per_s
        time.sleep(max(0, due_ns - now_ns()) / 1e9)
        self._given += 1
        return Frame(image=PICTURE, captured_ns=now_ns(), index=self._given - 1)

    def close(self) -> None:
        pass


@functools.cache
def run_of_poses() -> list[Pose]:
    return take(RUNNER, View.SIDE, 15.0, FRAMES_PER_S).poses


class RunnerModel:
    """Stands in for the pose model: an ideal runner, whatever the picture shows."""

    def __init__(self) -> None:
        self.poses = run_of_poses()
        self.closed = False
        self.seen = 0

    def detect(self, frame: Frame) -> Pose:
        self.seen += 1
        pose = self.poses[frame.index]
        return dataclasses.replace(pose, captured_ns=frame.captured_ns, index=frame.index)

    def take_places(self, reserve: Reserve) -> None:
        """It has no threads."""

    def never_wait(self) -> None:
        """It searches for nobody."""

    def problem(self) -> Problem | None:
        return None

    def settle(self) -> None:
        """Nothing waits."""

    def close(self) -> None:
        self.closed = True


class FailingModel(RunnerModel):
    """Fails at its tenth frame."""

    def detect(self, frame: Frame) -> Pose:
        if self.seen == 9:
            raise ZeroDivisionError("on purpose")
        return super().detect(frame)


class HangingModel(RunnerModel):
    """Hangs from its tenth frame on, until released."""

    def __init__(self) -> None:
        super().__init__()
        self.hangs = threading.Event()
        self.release = threading.Event()

    def detect(self, frame: Frame) -> Pose:
        if self.seen == 9:
            self.hangs.set()
            self.release.wait(30)
        return super().detect(frame)


class ListeningSpeaker(SilentSpeaker):
    """Notes what it is told, and when it was told to stop."""

    def __init__(self) -> None:
        super().__init__()
        self.stopped_ns: int | None = None
        self.cues: list[Cue] = []
        self.beats: list[float | None] = []
        self.closed = False

    def play(self, cue: Cue) -> None:
        assert self.stopped_ns is None
        self.cues.append(cue)
        super().play(cue)

    def set_beat(self, spm: float | None) -> None:
        self.beats.append(spm)

    def stop(self, announce: bool) -> None:
        if self.stopped_ns is None:
            self.stopped_ns = now_ns()
        super().stop(announce)

    def close(self, within_s: float | None = None) -> None:
        self.closed = True


class Bench:
    """A station with stand-ins at its edges, and its record in a folder of the test's own."""

    def __init__(self, folder: Path, **changes: object) -> None:
        self.profile = find_athlete("heron")
        self.speaker = ListeningSpeaker()
        self.model = RunnerModel()
        order = StationSetup(
            athlete=self.profile.athlete,
            view=View.SIDE,
            source=PacedSource(),
            model=self.model,  # type: ignore[arg-type]
            speaker=self.speaker,
            spawn_screen=None,
            start_at_once=True,
        )
        self.order = dataclasses.replace(order, **changes)  # type: ignore[arg-type]
        self.station = Station(self.order)
        self.path = folder / "session.jsonl"

    def run(self, meanwhile: Callable[[], None] = lambda: None) -> SessionOutcome:
        """Hold the session, with ``meanwhile`` in a thread of its own."""
        header = Header(
            versions={},
            anchor=anchor_now(),
            source="stand-in",
            view=self.order.view,
            athlete=self.profile.athlete,
            athlete_text="",
            limits={},
        )
        helper = threading.Thread(target=meanwhile)
        helper.start()
        try:
            return self.station.run(Journal(self.path, header))
        finally:
            helper.join()
            self.station.close()

    def record(self) -> Recording:
        return read_journal(self.path)


def wait_until(true: Callable[[], bool], within_s: float = 20.0) -> None:
    until_ns = now_ns() + int(within_s * 1e9)
    while not true():
        assert now_ns() < until_ns, "it never came"
        time.sleep(0.005)
