"""The station's threads: every way a session can end, with its record saved each time."""

from __future__ import annotations

import logging
import os
import re
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from feedback.journal.entries import CueEntry, MeasureEntry, ProblemEntry, StateEntry
from feedback.journal.writer import Recording
from feedback.link.local_client import LinkClient
from feedback.screens.widgets.launch import ScreenProcess, spawn_runner_screen
from feedback.station import screen_loss
from feedback.station.setup import SessionOutcome
from shared.clock import now_ns
from shared.flow import CueKind
from shared.messages import SessionState, StopReason
from shared.problems import UserError
from shared.units import NS_PER_S
from tests.feedback.station_bench import (
    RUNNER,
    Bench,
    FailingModel,
    HangingModel,
    PacedSource,
    wait_until,
)


@pytest.fixture
def joined() -> Iterator[Callable[[Bench], LinkClient]]:
    """Lets runner's screens join and keeps them alive; sends them away in the end."""
    clients: list[LinkClient] = []
    over = threading.Event()

    def keep_alive() -> None:
        while not over.wait(0.2):
            for client in clients:
                client.ping()

    pinger = threading.Thread(target=keep_alive)
    pinger.start()

    def join(bench: Bench) -> LinkClient:
        port = bench.station.open_link()
        client = LinkClient(port, bench.station.issue_token(), "runner")
        client.start()
        clients.append(client)
        return client

    yield join
    over.set()
    pinger.join()
    for client in clients:
        client.close()


def states(record: Recording) -> list[tuple[SessionState, StopReason | None]]:
    return [(e.state, e.reason) for e in record.entries if isinstance(e, StateEntry)]


def assert_saved(bench: Bench, outcome: SessionOutcome, reason: StopReason) -> Recording:
    record = bench.record()
    assert outcome.reason is reason
    assert outcome.saved is True
    assert not record.torn
    assert states(record)[-1] == (SessionState.STOPPED, reason)
    assert bench.speaker.stopped_ns is not None
    assert bench.speaker.closed
    return record


def test_end_of_the_video_finishes_the_session(tmp_path: Path) -> None:
    bench = Bench(tmp_path, source=PacedSource(frames=30))
    outcome = bench.run()
    record = assert_saved(bench, outcome, StopReason.FINISHED)
    assert record.summary is not None
    assert record.summary.stop_reason is StopReason.FINISHED
    assert outcome.problem is None
    assert bench.model.closed
    assert outcome.tally.frames + outcome.dropped == 30


def test_measures_and_cues_reach_sound_record_and_screen(
    tmp_path: Path, joined: Callable[[Bench], LinkClient]
) -> None:
    bench = Bench(tmp_path, time_limit_s=12.0)
    client = joined(bench)
    seen: list[float] = []

    def look_on() -> None:
        wait_until(lambda: bool((s := client.status().snapshot) and s.cues))
        snapshot = client.status().snapshot
        assert snapshot is not None
        assert snapshot.focus is not None
        assert snapshot.focus.value is not None
        seen.append(snapshot.focus.value)

    outcome = bench.run(look_on)
    record = assert_saved(bench, outcome, StopReason.TIME)
    # The runner's 156 steps/min lie under the athlete's band, which begins at 163.
    assert seen
    assert seen[0] == pytest.approx(RUNNER.cadence_spm, abs=3)
    assert bench.speaker.cues[0].kind is CueKind.OUT_OF_BAND
    assert bench.speaker.cues[0].sound == "out_low"
    assert 168.0 in bench.speaker.beats
    decided = [e.cue for e in record.entries if isinstance(e, CueEntry)]
    assert decided == bench.speaker.cues
    assert all(0 <= cue.decided_ns - cue.captured_ns < 250e6 for cue in decided)
    assert {e.measure.name for e in record.entries if isinstance(e, MeasureEntry)} >= {
        "cadence",
        "strike_ahead",
    }
    assert record.summary is not None
    assert record.summary.steps > 20
    assert {m.name for m in outcome.tally.measures} >= {"cadence", "strike_ahead"}


def test_stop_on_the_screen_is_silence_at_once_and_a_saved_session(
    tmp_path: Path, joined: Callable[[Bench], LinkClient]
) -> None:
    bench = Bench(tmp_path)
    client = joined(bench)
    asked_ns: list[int] = []

    def press_stop() -> None:
        wait_until(lambda: bench.model.seen > 20 and client.status().snapshot is not None)
        asked_ns.append(now_ns())
        client.stop()

    outcome = bench.run(press_stop)
    record = assert_saved(bench, outcome, StopReason.RUNNER)
    assert bench.speaker.stopped_ns is not None
    assert bench.speaker.stopped_ns - asked_ns[0] < 100e6
    stop = next(e for e in record.entries if isinstance(e, StateEntry) and e.reason is not None)
    assert stop.asked_ns == pytest.approx(asked_ns[0], abs=50e6)
    snapshot = client.status().snapshot
    assert snapshot is not None
    assert snapshot.state is SessionState.STOPPED
    assert snapshot.stop_reason is StopReason.RUNNER
    assert snapshot.saved is True


def test_stop_is_heard_although_the_work_thread_hangs(
    tmp_path: Path, joined: Callable[[Bench], LinkClient]
) -> None:
    model = HangingModel()
    bench = Bench(tmp_path, model=model)
    client = joined(bench)

    def press_stop() -> None:
        assert model.hangs.wait(20)
        client.stop()

    before_ns = now_ns()
    outcome = bench.run(press_stop)
    assert now_ns() - before_ns < 15e9
    model.release.set()
    assert outcome.reason is StopReason.FAULT
    assert outcome.problem is not None
    assert outcome.problem.code == "worker_failed"
    assert outcome.saved is True
    record = bench.record()
    assert states(record)[-1] == (SessionState.STOPPED, StopReason.RUNNER)
    assert [e.problem.code for e in record.entries if isinstance(e, ProblemEntry)] == [
        "worker_failed"
    ]


def test_a_hanging_work_thread_is_given_up(
    tmp_path: Path, joined: Callable[[Bench], LinkClient]
) -> None:
    model = HangingModel()
    bench = Bench(tmp_path, model=model)
    client = joined(bench)
    codes: set[str] = set()

    def look_on() -> None:
        while bench.speaker.stopped_ns is None:
            snapshot = client.status().snapshot
            codes.update(problem.code for problem in (snapshot.problems if snapshot else ()))
            time.sleep(0.02)

    outcome = bench.run(look_on)
    model.release.set()
    assert outcome.reason is StopReason.FAULT
    assert "worker_stalled" in codes
    assert states(bench.record())[-1] == (SessionState.STOPPED, StopReason.FAULT)


def test_a_screen_that_was_slow_to_open_is_not_held_against_the_work_thread(tmp_path: Path) -> None:
    bench = Bench(tmp_path)
    worker = bench.station._worker
    worker.awake_ns -= 60 * NS_PER_S  # it was made a minute before the run
    before_ns = now_ns()
    worker.start()
    awake_ns = worker.awake_ns  # no picture has come yet, so it has not come round by itself
    bench.station.close()
    assert awake_ns >= before_ns


def test_a_failing_work_thread_is_seen_and_saved(tmp_path: Path) -> None:
    bench = Bench(tmp_path, model=FailingModel())
    outcome = bench.run()
    record = assert_saved(bench, outcome, StopReason.FAULT)
    assert outcome.problem is not None
    assert outcome.problem.code == "worker_failed"
    problem = next(e.problem for e in record.entries if isinstance(e, ProblemEntry))
    assert "ZeroDivisionError: on purpose" in problem.details
    assert "Traceback" not in problem.title + problem.meaning + problem.action


def test_a_screen_that_goes_takes_the_session_with_it(
    tmp_path: Path, joined: Callable[[Bench], LinkClient], caplog: pytest.LogCaptureFixture
) -> None:
    bench = Bench(tmp_path)
    client = joined(bench)

    def leave() -> None:
        wait_until(lambda: client.status().snapshot is not None)
        client.close()

    with caplog.at_level(logging.WARNING, "beltside"):
        outcome = bench.run(leave)
    details = why_lost(assert_saved(bench, outcome, StopReason.SCREEN_LOST))
    assert re.match(r"last heard \d\.\d\d s before, .*; it closed the connection \(1000", details)
    assert details in caplog.text


def why_lost(record: Recording) -> str:
    """What the record holds of how the screen was lost."""
    (problem,) = (e.problem for e in record.entries if isinstance(e, ProblemEntry))
    assert problem.code == "screen_lost"
    return problem.details


class Screens:
    """Opens real windows that nobody sees, and keeps them."""

    def __init__(self) -> None:
        self.opened: list[ScreenProcess] = []

    def spawn(self, port: int, token: str) -> ScreenProcess:
        self.opened.append(spawn_runner_screen(port, token, windowed=True))
        return self.opened[-1]


@pytest.fixture
def screens(monkeypatch: pytest.MonkeyPatch) -> Screens:
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    return Screens()


@pytest.mark.window
def test_a_screen_that_crashes_takes_the_session_with_it(tmp_path: Path, screens: Screens) -> None:
    bench = Bench(tmp_path, spawn_screen=screens.spawn)
    bench.station.open_screen()

    def crash() -> None:
        wait_until(lambda: bench.model.seen > 20)
        screens.opened[0].kill()

    outcome = bench.run(crash)
    details = why_lost(assert_saved(bench, outcome, StopReason.SCREEN_LOST))
    assert "last heard" in details
    assert f"later: process {screens.opened[0].pid} ended by SIGKILL" in details


@pytest.mark.window
def test_what_a_silent_screen_was_at_is_on_record(tmp_path: Path, screens: Screens) -> None:
    bench = Bench(tmp_path, spawn_screen=screens.spawn)
    bench.station.open_screen()

    def freeze() -> None:
        wait_until(lambda: bench.model.seen > 20)
        screens.opened[0].send_signal(signal.SIGSTOP)

    try:
        outcome = bench.run(freeze)
    finally:
        screens.opened[0].kill()
    details = why_lost(assert_saved(bench, outcome, StopReason.SCREEN_LOST))
    assert re.match(r"last heard 1\.[4-9]\d s before", details)
    assert "ended by the station: silent for 1." in details
    assert f"process {screens.opened[0].pid} runs (halted by a signal, " in details


@pytest.mark.window
def test_a_screen_that_goes_after_the_end_is_not_lost(
    tmp_path: Path, screens: Screens, caplog: pytest.LogCaptureFixture
) -> None:
    """As where a busy machine is slow to close it, and the station helps."""
    bench = Bench(tmp_path, spawn_screen=screens.spawn, source=PacedSource(frames=10))
    bench.station.open_screen()

    def end_screen() -> None:
        wait_until(lambda: bench.station._outcome is not None)
        screens.opened[0].terminate()

    with caplog.at_level(logging.WARNING, "beltside"):
        assert_saved(bench, bench.run(end_screen), StopReason.FINISHED)
        time.sleep(2 * screen_loss._SIGNAL_MAY_COME_S)  # what would be told is told by then
    assert caplog.text == ""


def test_a_broken_camera_is_a_fault(tmp_path: Path) -> None:
    bench = Bench(tmp_path, source=PacedSource(frames=20, broken=True))
    outcome = bench.run()
    assert_saved(bench, outcome, StopReason.FAULT)
    assert outcome.problem is not None
    assert outcome.problem.code == "worker_failed"
    assert "the driver gave up" in outcome.problem.details


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_the_session_politely(tmp_path: Path, number: signal.Signals) -> None:
    bench = Bench(tmp_path)

    def send() -> None:
        wait_until(lambda: bench.model.seen > 5)
        os.kill(os.getpid(), number)

    outcome = bench.run(send)
    record = assert_saved(bench, outcome, StopReason.QUIT)
    assert outcome.signal_number == number
    assert record.summary is not None


def test_the_loss_of_stdout_ends_the_session_politely(tmp_path: Path) -> None:
    lost: list[int] = []
    bench = Bench(tmp_path, lost_output=lambda: lost[0] if lost else None)

    def lose() -> None:
        wait_until(lambda: bench.model.seen > 5)
        lost.append(signal.SIGPIPE)

    outcome = bench.run(lose)
    record = assert_saved(bench, outcome, StopReason.QUIT)
    assert outcome.signal_number == signal.SIGPIPE
    assert record.summary is not None
    stop = next(e for e in record.entries if isinstance(e, StateEntry) and e.reason is not None)
    assert stop.source == "the terminal or pipe was closed"


def test_a_screen_that_goes_for_the_same_signal_is_not_lost(
    tmp_path: Path, joined: Callable[[Bench], LinkClient]
) -> None:
    bench = Bench(tmp_path)
    client = joined(bench)

    def leave() -> None:
        wait_until(lambda: client.status().snapshot is not None)
        bench.station._on_signal(signal.SIGHUP, None)
        client.close()

    outcome = bench.run(leave)
    assert_saved(bench, outcome, StopReason.QUIT)
    assert outcome.signal_number == signal.SIGHUP


@pytest.mark.window
@pytest.mark.parametrize(
    ("number", "told"), [(signal.SIGINT, None), (signal.SIGTERM, signal.SIGTERM)]
)
def test_after_the_end_ctrl_c_only_ends_the_wait_for_the_screen(
    tmp_path: Path, screens: Screens, number: signal.Signals, told: signal.Signals | None
) -> None:
    """Any other signal asks the program to go, and nothing more is to be asked or written."""
    bench = Bench(tmp_path, spawn_screen=screens.spawn, source=PacedSource(frames=10))
    bench.station.open_screen()

    def send() -> None:
        wait_until(lambda: bench.station._outcome is not None)
        time.sleep(0.3)
        os.kill(os.getpid(), number)

    outcome = bench.run(send)
    assert_saved(bench, outcome, StopReason.FINISHED)
    assert outcome.signal_number == told
    assert screens.opened[0].poll() is not None


@pytest.mark.window
def test_a_signal_in_the_moment_of_a_stop_is_not_lost(
    tmp_path: Path, joined: Callable[[Bench], LinkClient], screens: Screens
) -> None:
    """After it nobody waits for the screen to be closed."""
    model = HangingModel()
    bench = Bench(tmp_path, model=model, spawn_screen=screens.spawn)
    bench.station.open_screen()
    client = joined(bench)
    returned, waited_for = threading.Event(), []

    def stop_and_send() -> None:
        assert model.hangs.wait(20)
        client.stop()
        wait_until(lambda: bench.speaker.stopped_ns is not None)
        os.kill(os.getpid(), signal.SIGTERM)  # the work thread has not ended yet
        model.release.set()
        if not returned.wait(10):
            waited_for.extend(screens.opened)
            screens.opened[0].kill()

    helper = threading.Thread(target=stop_and_send)
    helper.start()
    outcome = bench.run()
    returned.set()
    helper.join()
    assert_saved(bench, outcome, StopReason.RUNNER)
    assert not waited_for


def test_the_session_begins_with_the_first_steps(tmp_path: Path) -> None:
    bench = Bench(tmp_path, start_at_once=False, time_limit_s=2.0)
    outcome = bench.run()
    record = assert_saved(bench, outcome, StopReason.TIME)
    kinds = [type(entry) for entry in record.entries]
    assert kinds.index(MeasureEntry) < kinds.index(StateEntry)
    assert states(record)[0] == (SessionState.RUNNING, None)


def test_a_disk_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    folder = tmp_path / "sessions"
    folder.write_text("a file where the folder should be")
    bench = Bench(folder, source=PacedSource(frames=20))
    outcome = bench.run()
    assert outcome.reason is StopReason.FINISHED
    assert outcome.saved is False
    assert outcome.save_problem is not None
    assert outcome.save_problem.code == "journal_failed"


def test_a_screen_that_does_not_come_up_leaves_the_choice_to_the_command(tmp_path: Path) -> None:
    def spawn(_port: int, _token: str) -> ScreenProcess:
        return ScreenProcess([sys.executable, "-c", "pass"], dict(os.environ))

    bench = Bench(tmp_path, spawn_screen=spawn, source=PacedSource(frames=10))
    with pytest.raises(UserError) as caught:
        bench.station.open_screen()
    assert caught.value.problem.code == "screen_unavailable"
    assert_saved(bench, bench.run(), StopReason.FINISHED)


def test_nothing_is_left_running(tmp_path: Path) -> None:
    before = set(threading.enumerate())
    bench = Bench(tmp_path, source=PacedSource(frames=20))
    bench.run()
    wait_until(lambda: set(threading.enumerate()) <= before)


def test_snapshots_are_few(tmp_path: Path, joined: Callable[[Bench], LinkClient]) -> None:
    bench = Bench(tmp_path, source=PacedSource(frames=60))
    client = joined(bench)
    wait_until(lambda: client.status().heard_ns is not None)
    bench.run()
    snapshot = client.status().snapshot
    assert snapshot is not None
    assert snapshot.number <= 25
    assert snapshot.frames_per_s == pytest.approx(30, abs=4)
