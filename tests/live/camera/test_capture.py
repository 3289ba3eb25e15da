"""The camera thread against a network camera that stalls, breaks and comes back, and worse."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from live.camera import capture as capture_module
from live.camera.capture import Capture, CaptureState
from live.camera.opencv import cv2
from live.camera.sources import CameraSource, FileSource, ListSource, SourceLost, StreamSource
from shared.clock import now_ns
from shared.flow import Frame
from shared.mailbox import Latest
from tests.live.camera.mjpeg_server import MjpegServer, read_stamp


def wait_until(true: Callable[[], object], timeout_s: float) -> float:
    """Wait for it and return how long that took, in seconds; fail when it does not come."""
    pause = threading.Event()
    started = now_ns()
    while not true():
        waited_s = (now_ns() - started) / 1e9
        assert waited_s < timeout_s, "it did not happen in time"
        pause.wait(0.005)
    return (now_ns() - started) / 1e9


def newest_age_s(mailbox: Latest[Frame]) -> float:
    """Age of what the next frame shows, by the clock reading drawn into it."""
    mailbox.take(0)
    frame = mailbox.take(1.0)
    assert frame is not None
    return (now_ns() - read_stamp(frame.image)) / 1e9


def picture(number: int = 0) -> Frame:
    return Frame(np.zeros((8, 8, 3), np.uint8), number, number)


def test_a_stream_runs_at_its_rate() -> None:
    mailbox: Latest[Frame] = Latest()
    with MjpegServer() as server, Capture(StreamSource(server.url), mailbox) as capture:
        wait_until(lambda: capture.status().frames >= 45, 5)
        status = capture.status()
        assert status.state == CaptureState.RUNNING
        assert status.problem is None
        assert status.frames_per_s == pytest.approx(30, rel=0.1)
        assert newest_age_s(mailbox) < 0.2
    assert mailbox.replaced > 30  # a reader that sleeps costs frames, never time


def test_a_stall_is_told_in_time_and_mends_by_itself(capfd: pytest.CaptureFixture[str]) -> None:
    mailbox: Latest[Frame] = Latest()
    with MjpegServer() as server, Capture(StreamSource(server.url), mailbox) as capture:
        wait_until(lambda: capture.status().state == CaptureState.RUNNING, 5)
        server.flowing.clear()
        waited_s = wait_until(lambda: capture.status().state == CaptureState.LOST, 5)
        assert 0.9 < waited_s < 1.5
        problem = capture.status().problem
        assert problem is not None
        assert problem.code == "picture_lost"
        assert problem.title == "No new picture for 1 s."
        frames = capture.status().frames
        server.flowing.set()
        wait_until(lambda: capture.status().frames > frames, 3)
        assert capture.status().state == CaptureState.RUNNING
        assert newest_age_s(mailbox) < 0.2
    assert capfd.readouterr().err == ""


def test_a_short_stall_leaves_no_lag() -> None:
    mailbox: Latest[Frame] = Latest()
    with MjpegServer() as server, Capture(StreamSource(server.url), mailbox) as capture:
        wait_until(lambda: capture.status().frames > 3, 5)
        server.flowing.clear()
        time.sleep(0.6)
        assert capture.status().state == CaptureState.RUNNING
        server.flowing.set()
        frames = capture.status().frames
        wait_until(lambda: capture.status().frames > frames + 10, 3)
        assert newest_age_s(mailbox) < 0.2
        assert server.connections == 1


def test_a_cut_is_told_in_time_and_the_stream_is_found_again() -> None:
    mailbox: Latest[Frame] = Latest()
    with MjpegServer() as server, Capture(StreamSource(server.url), mailbox) as capture:
        wait_until(lambda: capture.status().frames > 3, 5)
        server.cut()
        assert wait_until(lambda: capture.status().state == CaptureState.LOST, 5) < 1.5
        index = capture.status().frames
        server.come_back()
        wait_until(lambda: capture.status().state == CaptureState.RUNNING, 3)
        assert newest_age_s(mailbox) < 0.2
        frame = mailbox.take(1)
        assert frame is not None
        assert frame.index > index - 1  # counts on over the break
        assert frame.captured_ns > now_ns() - 200_000_000


def test_a_stream_that_is_not_there_yet_is_waited_for() -> None:
    server = MjpegServer()
    url = server.url
    server.cut()
    with Capture(StreamSource(url), Latest()) as capture:
        wait_until(lambda: capture.status().problem, 5)
        status = capture.status()
        assert status.state == CaptureState.OPENING
        assert status.problem is not None
        assert status.problem.code == "stream_missing"
        server.come_back()
        wait_until(lambda: capture.status().state == CaptureState.RUNNING, 5)
        assert capture.status().problem is None
    server.cut()


def test_a_missing_camera_is_told_and_nothing_breaks(capfd: pytest.CaptureFixture[str]) -> None:
    with Capture(CameraSource(63), Latest()) as capture:
        wait_until(lambda: capture.status().problem, 5)
        status = capture.status()
        assert (status.state, status.frames) == (CaptureState.OPENING, 0)
        assert status.problem is not None
        assert status.problem.code == "camera_missing"
    assert capfd.readouterr() == ("", "")


class Kept(Latest[Frame]):
    """A mailbox that remembers the index of every frame put in."""

    def __init__(self) -> None:
        super().__init__()
        self.indices: list[int] = []

    def put(self, item: Frame) -> None:
        self.indices.append(item.index)
        super().put(item)


class Flaky:
    """A source that does what the test says at each read."""

    may_return = True

    def __init__(self, reads: Callable[[int], Frame | None]) -> None:
        self.nominal_fps: float | None = None
        self.size: tuple[int, int] | None = None
        self.opened = self.closed = self.reads = 0
        self._act = reads

    def describe(self) -> str:
        return "a flaky source"

    def open(self) -> None:
        self.opened += 1

    def read(self) -> Frame | None:
        self.reads += 1
        return self._act(self.reads)

    def close(self) -> None:
        self.closed += 1


def test_a_read_that_hangs_is_told_and_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(capture_module, "READ_PATIENCE_S", 1.2)
    hung = threading.Event()
    pause = threading.Event()

    def act(read: int) -> Frame:
        if read == 5:
            hung.wait()
            return picture(999)  # comes far too late and must go nowhere
        pause.wait(0.01)
        return picture(read)

    source = Flaky(act)
    mailbox = Kept()
    with Capture(source, mailbox) as capture:
        wait_until(lambda: source.reads == 5, 5)
        assert wait_until(lambda: capture.status().state == CaptureState.LOST, 3) < 1.5
        wait_until(lambda: capture.status().state == CaptureState.RUNNING, 3)
        assert source.opened == 2
        frames = capture.status().frames
        hung.set()
        wait_until(lambda: capture.status().frames > frames + 5, 3)
        assert 999 not in mailbox.indices
        assert mailbox.indices == sorted(mailbox.indices)
        assert source.opened == 2


def test_a_driver_that_always_hangs_does_not_fill_the_computer_with_threads(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(capture_module, "READ_PATIENCE_S", 0.1)
    monkeypatch.setattr(capture_module, "_WATCH_S", 0.01)
    for_good = threading.Event()

    def act(_read: int) -> None:
        for_good.wait()

    source = Flaky(act)
    capture = Capture(source, Latest())
    capture.start()
    wait_until(lambda: source.opened == 1 + capture_module.MOST_HUNG, 5)
    threading.Event().wait(0.5)
    assert source.opened == 1 + capture_module.MOST_HUNG
    assert capture.status().state == CaptureState.OPENING
    for_good.set()
    capture.close()


@pytest.mark.parametrize("error", [SourceLost("unplugged"), RuntimeError("decoder"), cv2.error()])
def test_whatever_a_read_raises_stays_inside(error: Exception) -> None:
    def act(read: int) -> Frame:
        if read == 3:
            raise error
        threading.Event().wait(0.01)
        return picture(read)

    source = Flaky(act)
    with Capture(source, Latest()) as capture:
        wait_until(lambda: capture.status().frames > 5, 5)
        assert source.opened == 2
        assert source.closed == 1
        assert capture.status().state == CaptureState.RUNNING
    assert source.closed == 2


def test_tries_are_spaced_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def act(_read: int) -> Frame:
        raise SourceLost("gone")

    source = Flaky(act)
    with Capture(source, Latest()) as capture:
        threading.Event().wait(1.0)
        assert 3 <= source.opened <= 5  # after 0.2, 0.4 and 0.8 s
        assert capture.status().state == CaptureState.OPENING


def test_a_list_ends() -> None:
    mailbox: Latest[Frame] = Latest()
    with Capture(ListSource([picture(n) for n in range(4)]), mailbox) as capture:
        wait_until(lambda: capture.status().state == CaptureState.ENDED, 2)
        assert capture.status().frames == 4
        assert capture.status().problem is None
        newest = mailbox.take(0)
    assert newest is not None
    assert newest.index == 3


def test_a_missing_file_fails_for_good(tmp_path: Path) -> None:
    with Capture(FileSource(tmp_path / "none.mp4", as_live=True), Latest()) as capture:
        wait_until(lambda: capture.status().state == CaptureState.FAILED, 2)
        problem = capture.status().problem
        assert problem is not None
        assert problem.code == "file_missing"


def test_closing_leaves_no_thread_behind() -> None:
    before = set(threading.enumerate())
    source = Flaky(lambda read: picture(read))
    capture = Capture(source, Latest())
    capture.start()
    wait_until(lambda: source.reads > 10, 2)
    capture.close()
    assert set(threading.enumerate()) <= before
    assert source.closed == 1
