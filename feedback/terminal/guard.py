"""The outermost guard of the command line: plain words and exit codes, never a traceback."""

from __future__ import annotations

import atexit
import contextlib
import logging
import os
import signal
import sys
import threading
import traceback
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType
from typing import Final, NoReturn

import platformdirs

from feedback.terminal.output import Terminal, hurry
from feedback.terminal.program_name import as_called
from shared.files import private_folder
from shared.language import _
from shared.plain_text import plain_line, plain_lines
from shared.problems import Problem, UserError

OK = 0
PROBLEM = 1
WRONG_USAGE = 2
NOTHING_MEASURED = 3
"""A video was read to its end and gave no value."""
SIGNAL_BASE = 128
LARGEST_LOG_BYTES = 1_000_000
_LONGEST_TOLD = 4000
"""Letters; a list of all that is known may be long."""


_ASKING: Final = ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK")
"""The last one is Windows' own: its console was closed, or Ctrl+Break."""


class Interrupted(KeyboardInterrupt):
    """Ctrl+C, a polite request to end (SIGTERM), or a terminal that was closed (SIGHUP)."""

    def __init__(self, signal_number: int) -> None:
        super().__init__(signal_number)
        self.signal_number = signal_number


def log_path() -> Path:
    """Where the details of a failure are kept; the file may not exist."""
    return Path(platformdirs.user_log_dir("beltside")) / "beltside.log"


def two_lines(problem: Problem) -> str:
    """A problem as it is told on the command line: what happened, then meaning and action."""
    what = plain_line(as_called(problem.title), _LONGEST_TOLD)
    then = plain_line(as_called(f"{problem.meaning} {problem.action}"), _LONGEST_TOLD)
    return f"{what}\n{then}\n"


def tell(problem: Problem) -> None:
    """Say a problem on stderr, in two lines."""
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.write(two_lines(problem))
        sys.stderr.flush()


def say(text: str) -> None:
    """A line of the account on stdout, at once."""
    sys.stdout.write(f"{plain_lines(as_called(text))}\n")
    sys.stdout.flush()


@contextlib.contextmanager
def native_noise_to(path: Path) -> Iterator[bool]:
    """Send what native libraries write to file descriptor 2 to a log; Python's stderr stays.

    The pose runtime, the sound library and the video decoder all write there by themselves.
    Yields whether the log could be opened; without one the noise is thrown away.
    """
    try:
        terminal = os.dup(2)
    except OSError:  # started without a stderr
        yield False
        return
    log, kept = _open_log(path)
    os.dup2(log, 2)
    os.close(log)
    before = sys.stderr
    with os.fdopen(terminal, "w", buffering=1, errors="replace", closefd=False) as stderr:
        sys.stderr = stderr
        try:
            yield kept
        finally:
            sys.stderr = before
            stderr.flush()
            os.dup2(terminal, 2)
            os.close(terminal)


def _open_log(path: Path) -> tuple[int, bool]:
    """A descriptor to write to, and whether it is the log (else the null device)."""
    try:
        private_folder(path.parent)
        fresh = path.exists() and path.stat().st_size > LARGEST_LOG_BYTES
        flags = os.O_WRONLY | os.O_CREAT | (os.O_TRUNC if fresh else os.O_APPEND)
        # A pipe in its place would be waited for.
        return os.open(path, flags | getattr(os, "O_NONBLOCK", 0), 0o600), True
    except OSError:
        return os.open(os.devnull, os.O_WRONLY), False


def guarded(work: Callable[[], int], *, is_program: bool = False) -> int:
    """Run ``work`` and turn whatever comes out of it into words on stderr and an exit code.

    ``is_program``: the program ends with it; a later signal ends what is left of it at once.
    """
    _fill_closed()
    path = log_path()
    with (
        _private_files(),
        native_noise_to(path) as kept,
        Terminal() as terminal,
        _polite_signals(is_program=is_program) as polite,
    ):
        try:
            _log_python_noise()
            code = _code_of(work, terminal, path if kept else None)
            terminal.finish()
        except Interrupted as asked:
            polite.heeded = False  # it ends
            sys.stderr.write(plain_lines(_("\nEnded as requested.\n")))
            code = SIGNAL_BASE + asked.signal_number
        polite.heeded = False
        terminal.finish()
        if code == OK and terminal.lost is not None:
            code = SIGNAL_BASE + terminal.lost
    return code


@contextlib.contextmanager
def _private_files() -> Iterator[None]:
    """All that is made meanwhile, by libraries and programs too, is for this user alone."""
    before = os.umask(0o077)
    try:
        yield
    finally:
        os.umask(before)


def _fill_closed() -> None:
    """Started without stdin, stdout or stderr: else a file of ours would get that number."""
    while (number := os.open(os.devnull, os.O_RDWR)) <= 2:
        pass
    os.close(number)


def _code_of(work: Callable[[], int], terminal: Terminal, log: Path | None) -> int:
    try:
        code = work()
        terminal.finish()
        if terminal.waits:
            terminal.check()
    except UserError as error:
        tell(error.problem)
        return PROBLEM
    except BrokenPipeError:
        return SIGNAL_BASE + (terminal.lost or int(getattr(signal, "SIGPIPE", 13)))
    except SystemExit:
        terminal.finish()
        raise
    except Exception as error:  # noqa: BLE001 - the last guard: nobody may see a traceback
        return _tell_unforeseen(error, log)
    return code


class _PlainFormatter(logging.Formatter):
    """The log is looked at in a terminal too, and libraries log what they are sent."""

    def format(self, record: logging.LogRecord) -> str:
        """The record in lines of plain text."""
        return plain_lines(super().format(record))


def _log_python_noise() -> None:
    """Warnings, log records and last words of threads go where the native noise goes."""
    handler = logging.StreamHandler(os.fdopen(os.dup(2), "w", buffering=1, errors="replace"))
    handler.setFormatter(_PlainFormatter("%(asctime)s %(name)s %(levelname)s %(message)s"))
    logging.root.handlers[:] = [handler]
    logging.captureWarnings(capture=True)
    threading.excepthook = _log_end_of_thread
    sys.unraisablehook = _log_unraisable


def _log_end_of_thread(end: threading.ExceptHookArgs) -> None:
    """A thread of a library died; those of our own have guards that tell the user."""
    name = "?" if end.thread is None else end.thread.name
    error = end.exc_value if end.exc_value is not None else end.exc_type()
    logging.getLogger("beltside").error("thread %s failed", name, exc_info=error)


def _log_unraisable(fault: sys.UnraisableHookArgs) -> None:
    """A library could not tidy up, as when Ctrl+C comes while it makes something."""
    error = fault.exc_value if fault.exc_value is not None else fault.exc_type()
    # Only a name of the object: it is half gone.
    what = type(fault.object).__name__
    logging.getLogger("beltside").error("tidying up failed (%s)", what, exc_info=error)


class _Polite:
    """Whether a signal breaks off what the program is doing."""

    heeded = True


@contextlib.contextmanager
def _polite_signals(*, is_program: bool) -> Iterator[_Polite]:
    """Turn signals that ask the program to end into :class:`Interrupted` while it runs."""
    polite = _Polite()

    def interrupt(number: int, _frame: FrameType | None) -> None:
        if polite.heeded:
            raise Interrupted(number)

    with on_signals(interrupt, system_after=is_program):
        yield polite


@contextlib.contextmanager
def unbroken() -> Iterator[None]:
    """What is done within is not broken off; a signal is heeded at its end. Main thread only.

    Raises Interrupted there.
    """
    came: list[int] = []
    with on_signals(lambda number, _: came.append(number)):
        yield
    if came:
        raise Interrupted(came[0])


@contextlib.contextmanager
def on_signals(
    handler: Callable[[int, FrameType | None], None], *, system_after: bool = False
) -> Iterator[None]:
    """Let ``handler`` have the signals that ask the program to end for a while. Main thread only.

    A hang-up that is ignored, as with ``nohup``, stays so. ``system_after``: then the system's own
    way to end the program comes in their place.
    """

    def handle(number: int, frame: FrameType | None) -> None:
        hurry()
        handler(number, frame)

    before = {}
    for name in _ASKING:
        number = getattr(signal, name, None)  # not every system has all of them
        if number is None or (
            name == "SIGHUP" and signal.getsignal(number) in (signal.SIG_IGN, None)
        ):
            continue
        before[number] = signal.signal(number, handle)
    try:
        yield
    finally:
        for number, previous in before.items():
            signal.signal(number, signal.SIG_DFL if system_after else previous)


def leave_at_once(code: int) -> NoReturn:
    """End the process once all is done; it was asked to go.

    Python would first take all that was loaded apart, which takes a busy computer a second.
    """
    atexit._run_exitfuncs()
    os._exit(code)


def quit_source(number: int) -> str:
    """Why a session ended for this signal, for its record."""
    if number in (getattr(signal, "SIGHUP", None), getattr(signal, "SIGPIPE", 13)):
        return "the terminal or pipe was closed"
    return "the program was asked to end"


def _tell_unforeseen(error: Exception, log: Path | None) -> int:
    """One plain line for a failure nobody planned for; the traceback goes to the log."""
    where = _("no log could be written")
    if log is not None:
        stamp = datetime.now(tz=UTC).isoformat(timespec="seconds")
        text = "".join(traceback.format_exception(error))
        with contextlib.suppress(OSError), log.open("a", encoding="utf-8") as file:
            file.write(plain_lines(f"{stamp} unforeseen failure\n{text}\n"))
            where = _("the details are in {log}").format(log=log)
    name = type(error).__name__
    sys.stderr.write(
        plain_lines(
            _("The program failed unexpectedly ({name}); {where}.\n").format(name=name, where=where)
        )
    )
    return PROBLEM
