"""Which of the station's threads does what, and where: measuring first, the rest aside."""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

import pytest

from feedback.journal.entries import MeasureEntry, ProblemEntry
from live.pipeline import Pipeline
from live.pose import people
from live.pose.people import PeopleCounter
from shared.cores import Share
from shared.flow import Frame, Pose, Update
from shared.messages import StopReason
from tests.feedback.station.test_station import assert_saved
from tests.feedback.station_bench import Bench, PacedSource, RunnerModel, wait_until


def test_the_measuring_has_a_processor_to_itself(tmp_path: Path, two: Share) -> None:
    everywhere = os.sched_getaffinity(0)
    seen: dict[str, set[int]] = {}

    class Model(RunnerModel):
        def detect(self, frame: Frame) -> Pose:
            seen["work"] = os.sched_getaffinity(0)
            return super().detect(frame)

    class Source(PacedSource):
        def read(self) -> Frame | None:
            seen["capture"] = os.sched_getaffinity(0)
            return super().read()

    bench = Bench(tmp_path, model=Model(), source=Source(frames=10))
    assert_saved(bench, bench.run(), StopReason.FINISHED)
    assert seen == {"work": two.measuring, "capture": two.rest}
    assert os.sched_getaffinity(0) == everywhere


def test_what_can_wait_is_done_aside_but_never_beside_the_next_frame(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The stride is learnt in another thread while landmarks are found, and over before they are
    used."""
    at_work: list[str] = []
    settled_in: set[str] = set()
    settle, update = Pipeline.settle, Pipeline.update

    def slow_settle(pipeline: Pipeline) -> None:
        at_work.append("settle")
        settled_in.add(threading.current_thread().name.rpartition("_")[0])
        time.sleep(0.05)  # longer than from one frame to the next
        settle(pipeline)
        at_work.remove("settle")

    def checked_update(pipeline: Pipeline, pose: Pose) -> Update:
        assert not at_work
        return update(pipeline, pose)

    monkeypatch.setattr(Pipeline, "settle", slow_settle)
    monkeypatch.setattr(Pipeline, "update", checked_update)
    bench = Bench(tmp_path, source=PacedSource(frames=150))
    record = assert_saved(bench, bench.run(), StopReason.FINISHED)
    assert settled_in == {"aside"}
    assert any(isinstance(entry, MeasureEntry) for entry in record.entries)


def test_a_failure_of_what_is_done_aside_is_seen_and_saved(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: Pipeline) -> None:
        raise ZeroDivisionError("on purpose")

    monkeypatch.setattr(Pipeline, "settle", fail)
    bench = Bench(tmp_path)
    record = assert_saved(bench, bench.run(), StopReason.FAULT)
    problems = [entry.problem for entry in record.entries if isinstance(entry, ProblemEntry)]
    assert problems[-1].code == "worker_failed"
    assert "on purpose" in problems[-1].details


def test_the_last_frame_of_a_video_is_measured_whenever_its_end_is_seen(tmp_path: Path) -> None:
    """Frame and end come while the one before is being measured: the end is known first."""
    before_last, may_come = threading.Event(), threading.Event()

    class Source(PacedSource):
        def read(self) -> Frame | None:
            if self._given == 29:
                may_come.wait()
            return super().read()

    class Model(RunnerModel):
        def detect(self, frame: Frame) -> Pose:
            pose = super().detect(frame)
            if frame.index == 28:
                may_come.set()
                wait_until(lambda: bench.station._capture.status().state == "ended")
                before_last.set()
            return pose

    bench = Bench(tmp_path, source=Source(frames=30), model=Model())
    outcome = bench.run()
    assert_saved(bench, outcome, StopReason.FINISHED)
    assert before_last.is_set()
    assert outcome.tally.frames + outcome.dropped == 30


def test_a_frame_that_waited_too_long_is_passed_over_and_counted_as_lost(tmp_path: Path) -> None:
    """A hiccup of three quarters of a frame's time, now and then; the one after it is let go."""
    hiccups = range(40, 140, 10)
    seen: list[int] = []

    class Model(RunnerModel):
        def detect(self, frame: Frame) -> Pose:
            seen.append(frame.index)
            if frame.index in hiccups:
                time.sleep(1.75 / 60)
            return super().detect(frame)

    bench = Bench(tmp_path, model=Model(), source=PacedSource(frames=150, frames_per_s=60))
    outcome = bench.run()
    assert_saved(bench, outcome, StopReason.FINISHED)
    passed = [index for index in hiccups if index in seen and index + 1 not in seen]
    assert len(passed) >= 5  # on a busy computer one or the other falls out otherwise
    assert outcome.dropped == 150 - len(seen)


def test_a_search_for_people_that_hangs_costs_no_sign_of_life(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As when the thread that searches, which steps aside for all others, gets no processor."""
    let = threading.Event()

    class Search:
        def detect(self, _image: object) -> None:
            let.wait(30)

        def close(self) -> None:
            pass

    monkeypatch.setattr(people, "open_landmarker", lambda *_, **__: Search())
    counter = PeopleCounter(tmp_path)

    class Model(RunnerModel):
        def never_wait(self) -> None:
            counter.waits = False

        def detect(self, frame: Frame) -> Pose:
            counter.several(frame)
            return super().detect(frame)

        def settle(self) -> None:
            counter.settle()

    model = Model()
    bench = Bench(tmp_path, model=model, source=PacedSource(frames=60))
    threading.Timer(8.0, let.set).start()  # so that it ends, were it waited for
    outcome = bench.run()
    assert not let.is_set()
    assert_saved(bench, outcome, StopReason.FINISHED)
    assert model.seen + outcome.dropped == 60
    let.set()
    counter.close()
