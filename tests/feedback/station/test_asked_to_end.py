"""Signals, and a terminal or pipe that is closed, paused or not read: the session ends as by Stop.

What a signal's number and exit code mean: POSIX.1-2017, <signal.h> and "Exit Status for Commands"
(128 + number is what shells make of it, and what this program gives itself).
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from feedback.athlete_files.plan_log import read_result
from feedback.demo import demo_clip
from shared.flow import View
from shared.messages import SessionState, StopReason
from tests.feedback.cli.test_training_commands import Home
from tests.feedback.screens.runner.test_window import display, needs_x
from tests.feedback.terminal.terminal_rig import Program, needs_a_terminal, wait_until

__all__ = ["display"]
pytestmark = [pytest.mark.model, needs_a_terminal]
SOON_S = 3.0
"""For what takes 0.2 to 0.6 s on an idle computer and must not take more than 1 s there."""
CLOSED = "the terminal or pipe was closed"
ASKED = "the program was asked to end"
BASELINE = ("baseline", "--athlete", "heron", "--clip", "side", "--no-sound", "--headless",
            "--steps", "300")  # fmt: skip
ON_SCREEN = ("run", "--athlete", "heron", "--clip", "side", "--no-sound", "--windowed", "--panel",
             "--cautions-read")  # fmt: skip
MEASURE = ("measure", str(demo_clip(View.SIDE)), "--view", "side", "--as-live", "--json")
OFFSCREEN = {"QT_QPA_PLATFORM": "offscreen"}
Start = Callable[..., Program]


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Start]:
    programs: list[Program] = []

    def begin(*words: str, **more: object) -> Program:
        programs.append(Program(tmp_path, *words, **more))  # type: ignore[arg-type]
        return programs[-1]

    yield begin
    for program in programs:
        program.close()
        for noise in ("Traceback", "Exception ignored", "Fatal Python error"):
            assert noise not in program.said


def assert_ended(program: Program, code: int, *, session: str | None) -> None:
    """With this code, nothing left behind, and what the record says of a ``session``'s end."""
    found, took_s = program.ends()
    print(f"ended {took_s:.2f} s after")
    assert found == code, program.said
    assert took_s < SOON_S
    if session is not None:
        record, last = program.record(), program.last_state()
        assert not record.torn
        assert record.summary is not None
        assert record.summary.stop_reason is StopReason.QUIT
        assert (last.state, last.reason) == (SessionState.STOPPED, StopReason.QUIT)
        assert last.source == session


@pytest.mark.parametrize(
    ("number", "to_group", "source"),
    [
        (signal.SIGHUP, True, CLOSED),
        (signal.SIGTERM, False, ASKED),
        (signal.SIGINT, True, ASKED),
    ],
)
def test_a_signal_ends_a_session_with_its_record_closed(
    start: Start, number: signal.Signals, to_group: bool, source: str
) -> None:
    program = start(*BASELINE)
    program.read_on()
    program.waits_for_a_run()
    program.send(number, to_group=to_group)
    assert_ended(program, 128 + number, session=source)
    assert "Saved as" in program.said


@pytest.mark.window
@needs_x
def test_closing_the_terminal_ends_the_session_and_closes_its_screens(
    start: Start, display: str
) -> None:
    program = start(*ON_SCREEN, DISPLAY=display)
    program.read_on()
    program.waits_for_a_run()
    wait_until(lambda: len(program.living()) == 3)
    program.close_terminal()
    assert_ended(program, 128 + signal.SIGHUP, session=CLOSED)


@pytest.mark.window
def test_a_signal_to_the_screens_as_well_is_no_lost_screen(start: Start) -> None:
    """As when a computer is shut down, which asks every process to end. The signal came first."""
    program = start(*ON_SCREEN, **OFFSCREEN)
    program.read_on()
    program.waits_for_a_run()
    wait_until(lambda: len(program.living()) == 3)
    program.send_to_all(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=ASKED)
    assert "Write it later with: beltside report" in program.said


@pytest.mark.window
def test_a_signal_while_the_screen_opens_leaves_no_screen_behind(start: Start) -> None:
    program = start(*ON_SCREEN, **OFFSCREEN)
    program.read_on()
    wait_until(lambda: len(program.living()) == 2)
    program.send(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=None)
    assert "Ended as requested." in program.said


@pytest.mark.window
def test_two_signals_end_it_no_worse_than_one(start: Start) -> None:
    program = start(*ON_SCREEN, **OFFSCREEN)
    program.read_on()
    program.waits_for_a_run()
    for _ in range(5):
        program.send(signal.SIGINT)
        time.sleep(0.02)
    code, took_s = program.ends()
    # The last one may come when all is done and only the process itself is left.
    assert code in (128 + signal.SIGINT, -signal.SIGINT)
    assert took_s < SOON_S
    record = program.record()
    assert record.summary is not None
    assert record.summary.stop_reason is StopReason.QUIT


def test_a_pipe_whose_reader_leaves_ends_the_session(start: Start) -> None:
    program = start(*BASELINE, line="{beltside} | head -n 1; exit ${{PIPESTATUS[0]}}")
    program.read_on()
    wait_until(lambda: program.process.poll() is not None)
    assert_ended(program, 128 + signal.SIGPIPE, session=CLOSED)


def test_a_pipe_that_is_closed_while_nothing_is_said_is_noticed(start: Start) -> None:
    """With a screen a session says nothing until its end."""
    program = start(*BASELINE, terminal=False)
    program.read_on()
    program.waits_for_a_run()
    program.close_terminal()
    assert_ended(program, 128 + signal.SIGPIPE, session=CLOSED)


def test_a_pipe_that_nobody_reads_holds_nothing_up(start: Start) -> None:
    program = start(*BASELINE, terminal=False, full=True)
    program.waits_for_a_run()
    program.send(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=ASKED)


def test_a_paused_terminal_holds_nothing_up(start: Start) -> None:
    program = start(*BASELINE)
    program.read_on()
    program.type("\x13")  # Ctrl+S
    program.waits_for_a_run()
    assert program.said.count("steps") == 0
    program.send(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=ASKED)


def test_a_hang_up_that_was_ignored_before_the_start_stays_ignored(start: Start) -> None:
    program = start(*BASELINE, terminal=False, before=("nohup",))
    program.read_on()
    program.waits_for_a_run()
    program.send(signal.SIGHUP)
    program.waits_for("20 of 300 steps")
    program.send(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=ASKED)


def test_a_session_of_a_plan_keeps_its_result_and_asks_nothing_more(
    start: Start, tmp_path: Path
) -> None:
    path, out = Home(tmp_path).prescription(), tmp_path / "mine.json"
    program = start("session", str(path), "--clip", "side", "--no-sound", "--headless",
                    "--shorten", "40", "--out", str(out))  # fmt: skip
    program.read_on()
    program.waits_for_a_run()
    for _ in range(8):  # a shell passes it on, and it comes to the group as well
        program.send(signal.SIGHUP)
        time.sleep(0.01)
    assert_ended(program, 128 + signal.SIGHUP, session=CLOSED)
    assert read_result(out).session.stop_reason is StopReason.QUIT


@pytest.mark.window
@pytest.mark.parametrize("lost", ["terminal", "pipe"])
def test_the_pages_at_home_close_with_the_terminal(start: Start, tmp_path: Path, lost: str) -> None:
    path = Home(tmp_path).prescription()
    program = start("home", str(path), "--clip", "side", terminal=lost == "terminal", **OFFSCREEN)
    program.read_on()
    wait_until(lambda: len(program.living()) == 2)
    program.waits_for("Session 1 of")
    program.close_terminal()
    number = signal.SIGHUP if lost == "terminal" else signal.SIGPIPE
    assert_ended(program, 128 + number, session=None)


@pytest.mark.window
@pytest.mark.parametrize("lost", ["terminal", "pipe"])
def test_the_camera_check_ends_with_the_terminal(start: Start, lost: str) -> None:
    program = start("check", "--view", "side", "--clip", "side", "--windowed",
                    terminal=lost == "terminal", **OFFSCREEN)  # fmt: skip
    program.read_on()
    program.waits_for("The camera check is open")
    wait_until(lambda: len(program.living()) == 2)
    program.close_terminal()
    number = signal.SIGHUP if lost == "terminal" else signal.SIGPIPE
    assert_ended(program, 128 + number, session=None)


def test_measuring_that_waits_for_a_paused_terminal_can_be_ended(start: Start) -> None:
    program = start(*MEASURE)
    program.read_on()
    program.waits_for('"event"')
    program.type("\x13")
    time.sleep(0.5)
    program.send(signal.SIGTERM)
    assert_ended(program, 128 + signal.SIGTERM, session=None)


def test_measuring_into_a_pipe_ends_with_its_reader(start: Start) -> None:
    program = start(*MEASURE, line="{beltside} | head -n 1; exit ${{PIPESTATUS[0]}}")
    program.read_on()
    wait_until(lambda: program.process.poll() is not None)
    assert_ended(program, 128 + signal.SIGPIPE, session=None)
    assert program.said.count('{"event"') == 1


def test_what_is_measured_goes_into_the_file_though_errors_go_to_a_terminal(
    start: Start, tmp_path: Path
) -> None:
    """The bar on the terminal had taken the lines along with it."""
    words = [word for word in MEASURE if word != "--as-live"]
    program = start(*words, line=f"{{beltside}} > {tmp_path / 'run.jsonl'}")
    program.read_on()
    assert program.ends()[0] == 0
    lines = (tmp_path / "run.jsonl").read_text().splitlines()
    assert len(lines) > 20
    assert '"summary"' in lines[-1]
    assert '"event"' not in program.said


def test_pairing_ends_once_nobody_can_read_the_code(start: Start) -> None:
    program = start("pair", terminal=False)
    program.read_on()
    program.waits_for("Code to pair")
    time.sleep(2.0)  # the announcement is out by then; taking it back waits for that
    program.close_terminal()
    assert_ended(program, 128 + signal.SIGPIPE, session=None)
