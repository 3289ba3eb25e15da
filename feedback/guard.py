"""The outermost guard of the command line: plain words and exit codes, never a traceback."""

from __future__ import annotations

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

import platformdirs

from shared.problems import Problem, UserError

OK = 0
PROBLEM = 1
WRONG_USAGE = 2
NOTHING_MEASURED = 3
"""A video was read to its end and gave no value."""
SIGNAL_BASE = 128
LARGEST_LOG_BYTES = 1_000_000


class Interrupted(KeyboardInterrupt):
    """Ctrl+C or a polite request to end (SIGTERM)."""

    def __init__(self, signal_number: int) -> None:
        super().__init__(signal_number)
        self.signal_number = signal_number


def log_path() -> Path:
    """Where the details of a failure are kept; the file may not exist."""
    return Path(platformdirs.user_log_dir("beltside")) / "beltside.log"


def two_lines(problem: Problem) -> str:
    """A problem as it is told on the command line: what happened, then meaning and action."""
    what = " ".join(problem.title.split())
    then = " ".join(f"{problem.meaning} {problem.action}".split())
    return f"{what}\n{then}\n"


def tell(problem: Problem) -> None:
    """Say a problem on stderr, in two lines."""
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.write(two_lines(problem))
        sys.stderr.flush()


def say(text: str) -> None:
    """A line of the account on stdout, at once."""
    sys.stdout.write(f"{text}\n")
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
        path.parent.mkdir(parents=True, exist_ok=True)
        fresh = path.exists() and path.stat().st_size > LARGEST_LOG_BYTES
        flags = os.O_WRONLY | os.O_CREAT | (os.O_TRUNC if fresh else os.O_APPEND)
        return os.open(path, flags, 0o600), True
    except OSError:
        return os.open(os.devnull, os.O_WRONLY), False


def guarded(work: Callable[[], int]) -> int:
    """Run ``work`` and turn whatever comes out of it into words on stderr and an exit code."""
    path = log_path()
    with native_noise_to(path) as kept:
        try:
            with _polite_signals():
                _log_python_noise()
                code = work()
                sys.stdout.flush()
        except UserError as error:
            tell(error.problem)
            return PROBLEM
        except Interrupted as asked:
            sys.stderr.write("\nEnded as asked.\n")
            return SIGNAL_BASE + asked.signal_number
        except BrokenPipeError:
            _forget_stdout()
            return SIGNAL_BASE + int(getattr(signal, "SIGPIPE", 13))
        except Exception as error:  # noqa: BLE001 - the last guard: nobody may see a traceback
            return _tell_unforeseen(error, path if kept else None)
        return code


def _log_python_noise() -> None:
    """Warnings, log records and last words of threads go where the native noise goes."""
    handler = logging.StreamHandler(os.fdopen(os.dup(2), "w", buffering=1, errors="replace"))
    handler.setFormatter(logging.Formatter("%(asctime)s %(name)s %(levelname)s %(message)s"))
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


@contextlib.contextmanager
def _polite_signals() -> Iterator[None]:
    """Turn SIGINT and SIGTERM into :class:`Interrupted` while the program runs."""

    def interrupt(number: int, _frame: FrameType | None) -> None:
        raise Interrupted(number)

    with on_signals(interrupt):
        yield


@contextlib.contextmanager
def on_signals(handler: Callable[[int, FrameType | None], None]) -> Iterator[None]:
    """Let ``handler`` have SIGINT and SIGTERM for a while. Main thread only."""
    before = {number: signal.signal(number, handler) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, previous in before.items():
            signal.signal(number, previous)


def _forget_stdout() -> None:
    """The reader of stdout has gone: keep the interpreter from complaining at its end."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _tell_unforeseen(error: Exception, log: Path | None) -> int:
    """One plain line for a failure nobody planned for; the traceback goes to the log."""
    where = "no log could be written"
    if log is not None:
        stamp = datetime.now(tz=UTC).isoformat(timespec="seconds")
        text = "".join(traceback.format_exception(error))
        with contextlib.suppress(OSError), log.open("a", encoding="utf-8") as file:
            file.write(f"{stamp} unforeseen failure\n{text}\n")
            where = f"the details are in {log}"
    name = type(error).__name__
    sys.stderr.write(f"The program failed in an unforeseen way ({name}); {where}.\n")
    return PROBLEM
