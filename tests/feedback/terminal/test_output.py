"""What is said goes out in order and whole, unless nothing may wait for it; then that is told."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from feedback.terminal.output import LAST_WORDS_S, MOST_WAITING, Terminal, check_output, lost_output
from tests.feedback.terminal.terminal_rig import wait_until

SCRIPT = """
import sys
from feedback.terminal.guard import guarded
from feedback.terminal.output import never_wait
def work():
    {work}
    return 0
sys.exit(guarded(work, is_program=True))
"""


class Pipe:
    """A pipe in place of stdout, and of stderr as well."""

    def __init__(self) -> None:
        self.end, there = os.pipe()
        self.out, self.err = os.fdopen(there, "w"), os.fdopen(os.dup(there), "w")

    @contextlib.contextmanager
    def terminal(self) -> Iterator[Terminal]:
        with (
            contextlib.redirect_stdout(self.out),
            contextlib.redirect_stderr(self.err),
            Terminal() as made,
        ):
            yield made

    def read(self) -> str:
        """All of it, once nobody can write any more."""
        self.close()
        return _drained(self.end)

    def close(self) -> None:
        self.out.close()
        self.err.close()


@pytest.fixture
def pipe() -> Iterator[Pipe]:
    made = Pipe()
    yield made
    made.close()
    with contextlib.suppress(OSError):  # the test may have closed it
        os.close(made.end)


def test_lines_keep_their_order_across_stdout_and_stderr(pipe: Pipe) -> None:
    with pipe.terminal():
        for number in range(300):
            (sys.stdout if number % 3 else sys.stderr).write(f"{number}\n")
    assert pipe.read().split() == [str(number) for number in range(300)]


def test_several_threads_do_not_mix_their_lines(pipe: Pipe) -> None:
    def say(name: str) -> None:
        for number in range(200):
            sys.stdout.write(f"{name} {number}\n")

    with pipe.terminal():
        threads = [threading.Thread(target=say, args=(name,)) for name in "abc"]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    lines = pipe.read().splitlines()
    for name in "abc":
        assert [line for line in lines if line[0] == name] == [f"{name} {n}" for n in range(200)]


def test_nothing_is_lost_to_a_reader_that_is_slow(pipe: Pipe) -> None:
    """More than the pipe and all that may wait."""
    count = 4 * MOST_WAITING
    read: list[str] = []

    def read_slowly() -> None:
        time.sleep(0.3)
        with os.fdopen(os.dup(pipe.end)) as end:
            read.extend(end)

    reader = threading.Thread(target=read_slowly)
    reader.start()
    with pipe.terminal() as terminal:
        for number in range(count):
            sys.stdout.write(f"{number:050d}\n")
        terminal.finish()
    pipe.close()
    reader.join()
    assert [int(line) for line in read] == list(range(count))


def test_a_session_waits_for_no_reader_and_says_later_what_was_left_out(pipe: Pipe) -> None:
    line = "x" * 99 + "\n"
    with pipe.terminal() as terminal:
        terminal.waits = False
        longest_s, said = 0.0, 0
        until = time.monotonic() + 1.0
        while time.monotonic() < until:
            began = time.monotonic()
            sys.stdout.write(line)
            longest_s = max(longest_s, time.monotonic() - began)
            said += 1
            time.sleep(0.0001)
        assert said > 2 * MOST_WAITING
        taken = os.read(pipe.end, 10_000_000).decode()
        reader = threading.Thread(target=lambda: read.append(_drained(pipe.end)))
        read: list[str] = []
        reader.start()
        terminal.finish()
        sys.stdout.write("the last words\n")
        terminal.finish()
    pipe.close()
    reader.join()
    lines = (taken + read[0]).splitlines()
    assert lines[-1] == "the last words"
    assert lines[-2].endswith("left out here: the terminal or pipe did not take them.)")
    assert lines.count(line.strip()) + int(lines[-2][1:].split()[0]) == said
    assert longest_s < 1.0  # one that waited would wait for ever


def _drained(end: int) -> str:
    said = b""
    while data := os.read(end, 65536):
        said += data
    return said.decode()


def test_the_end_waits_but_a_moment_for_a_reader_that_does_not_read(pipe: Pipe) -> None:
    began = time.monotonic()
    with pipe.terminal() as terminal:
        terminal.waits = False
        for _ in range(MOST_WAITING):
            sys.stdout.write("x" * 200 + "\n")
        terminal.finish()
        first_s = time.monotonic() - began
        terminal.finish()
    assert first_s > LAST_WORDS_S  # it might have read again
    assert time.monotonic() - began < LAST_WORDS_S + 1.0


def test_a_reader_that_leaves_is_noticed_though_nothing_is_said(pipe: Pipe) -> None:
    with pipe.terminal():
        check_output()
        assert lost_output() is None
        os.close(pipe.end)
        wait_until(lambda: lost_output() == signal.SIGPIPE, 5.0)
        with pytest.raises(BrokenPipeError):
            check_output()
        with pytest.raises(BrokenPipeError):
            sys.stdout.write("to nobody\n")
        sys.stderr.write("to nobody\n")  # where nobody reads nothing can be told
    assert lost_output() is None


def test_what_is_no_file_is_left_as_it_is(capsys: pytest.CaptureFixture[str]) -> None:
    with Terminal():
        sys.stdout.write("as it was\n")
    assert capsys.readouterr().out == "as it was\n"


def run(work: str, line: str, **more: object) -> subprocess.CompletedProcess[str]:
    """The outermost guard with this ``work`` in it, in a process of its own."""
    script = SCRIPT.format(work=work)
    command = ["bash", "-c", line, "bash", sys.executable, script]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False, **more)  # type: ignore[call-overload, no-any-return]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_full_disk_is_told_but_ends_no_session() -> None:
    done = run("print('lost')", '"$1" -c "$2" > /dev/full')
    assert done.returncode == 1
    assert done.stderr.startswith("The program failed unexpectedly (OSError)")
    assert len(done.stderr.splitlines()) == 1
    done = run("never_wait(); print('lost')", '"$1" -c "$2" > /dev/full')
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.skipif(sys.platform == "win32", reason="needs a shell")
@pytest.mark.parametrize(
    ("closed", "out"), [(">&-", ""), ("2>&-", "said\n"), ("<&-", "said\n"), (">&- 2>&- <&-", "")]
)
def test_streams_that_were_closed_before_the_start_are_done_without(closed: str, out: str) -> None:
    done = run("print('said'); print('told', file=sys.stderr)", f'"$1" -c "$2" {closed}')
    assert (done.returncode, done.stdout) == (0, out)
    assert done.stderr in ("", "told\n")
