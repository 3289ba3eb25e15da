"""How pages start work: the program's own commands, each a process, its lines and its end read.

Nothing of the measuring, cueing or recording runs in the start window: it starts what the command
line starts, in the same way, and shows what that says.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

from PyQt6.QtCore import QObject, QProcess, QProcessEnvironment, pyqtSignal

from shared.child_environment import child_environment
from shared.language import _
from shared.plain_text import plain_line

_COMMAND: Final = ("-m", "feedback.cli")
_MOST_LINES: Final = 20_000
_MOST_BYTES: Final = 50_000_000
_WIDTH: Final = "200"
"""Letters in a line: what commands print is broken anew where it is shown."""
_END_MS: Final = 2_000


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a command ended."""

    code: int
    """Its exit status; -1 where it could not be started or was ended from outside."""
    lines: tuple[str, ...]
    """What it said on stdout."""
    errors: tuple[str, ...]
    """What it said on stderr: first what happened, then what it means and what to do."""
    cancelled: bool = False
    """It was ended by this window."""
    raw: bytes = b""
    """All of stdout as it came."""

    @property
    def ok(self) -> bool:
        """Whether it did what it was asked."""
        return self.code == 0

    @property
    def what(self) -> str:
        """What went wrong, in a line."""
        return self.errors[0] if self.errors else _("The work ended before it was done.")

    @property
    def then(self) -> str:
        """What that means and what to do; may be empty."""
        return " ".join(self.errors[1:])

    def data(self) -> Any:
        """What a command with ``--json`` printed; None where it is no JSON."""
        try:
            return json.loads(self.raw)
        except ValueError:
            return None


class Job(QObject):
    """One command at work."""

    line = pyqtSignal(str)
    """A line of stdout, as it comes."""
    ended = pyqtSignal(object)
    """Its Outcome, once."""

    def __init__(self, words: Sequence[str], *, holds: bool, typed: str, parent: QObject) -> None:
        super().__init__(parent)
        self.words = tuple(words)
        self.holds = holds
        """The window stays open meanwhile: somebody runs."""
        self._out, self._err = _Lines(), _Lines()
        self._cancelled = self._over = False
        self._process = QProcess(self)
        self._process.setProgram(sys.executable)
        self._process.setArguments([*_COMMAND, *self.words])
        self._process.setProcessEnvironment(_environment())
        self._process.readyReadStandardOutput.connect(self._read_out)
        self._process.readyReadStandardError.connect(self._read_err)
        self._process.finished.connect(self._on_finished)
        self._process.errorOccurred.connect(self._on_error)
        self._typed = typed

    def start(self) -> None:
        """Begin."""
        self._process.start()
        if self._typed:
            self._process.write(self._typed.encode())
        self._process.closeWriteChannel()

    @property
    def running(self) -> bool:
        """Whether it has not ended yet."""
        return not self._over

    def cancel(self) -> None:
        """Ask it to end, as Ctrl+C in a terminal would; ``ended`` follows."""
        if self._over:
            return
        self._cancelled = True
        self._process.terminate()

    def end_now(self) -> None:
        """The window goes: wait a moment for it, then end it."""
        if self._over:
            return
        self.blockSignals(True)
        self._process.terminate()
        if not self._process.waitForFinished(_END_MS):
            self._process.kill()
            self._process.waitForFinished(_END_MS)

    def _read_out(self) -> None:
        for one in self._out.take(self._process.readAllStandardOutput().data()):
            self.line.emit(one)

    def _read_err(self) -> None:
        self._err.take(self._process.readAllStandardError().data())

    def _on_error(self, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._err.lines.append(_("Python could not be started again from this window."))
            self._end(-1)

    def _on_finished(self, code: int, status: QProcess.ExitStatus) -> None:
        self._read_out()
        self._read_err()
        for rest in self._out.take(b"\n"):
            self.line.emit(rest)
        self._err.take(b"\n")
        self._end(code if status is QProcess.ExitStatus.NormalExit else -1)

    def _end(self, code: int) -> None:
        if self._over:
            return
        self._over = True
        out, err = self._out, self._err
        outcome = Outcome(code, tuple(out.lines), tuple(err.lines), self._cancelled, bytes(out.raw))
        self.ended.emit(outcome)


class Jobs(QObject):
    """The commands that are at work for the window."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._jobs: list[Job] = []

    def run(
        self,
        words: Sequence[str],
        done: Callable[[Outcome], None],
        *,
        on_line: Callable[[str], None] | None = None,
        holds: bool = False,
        typed: str = "",
    ) -> Job:
        """Start ``beltside WORDS``; ``done`` is told once how it ended, in this thread.

        ``holds``: somebody runs meanwhile, so that the window may not be closed. ``typed``: what
        it reads on stdin.
        """
        job = Job(words, holds=holds, typed=typed, parent=self)
        if on_line is not None:
            job.line.connect(on_line)
        job.ended.connect(lambda outcome: self._ended(job, outcome, done))
        self._jobs.append(job)
        job.start()
        return job

    @property
    def held(self) -> bool:
        """Whether somebody runs."""
        return any(job.holds and job.running for job in self._jobs)

    @property
    def count(self) -> int:
        """How many are at work."""
        return len(self._jobs)

    def end_all(self) -> None:
        """The window goes."""
        for job in tuple(self._jobs):
            job.end_now()
        self._jobs.clear()

    def _ended(self, job: Job, outcome: Outcome, done: Callable[[Outcome], None]) -> None:
        if job in self._jobs:
            self._jobs.remove(job)
        job.deleteLater()
        done(outcome)


class _Lines:
    """Bytes as they come, as lines of plain text."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.raw = bytearray()
        self._rest = b""

    def take(self, data: bytes) -> list[str]:
        """The lines that are whole now."""
        if len(self.raw) < _MOST_BYTES:
            self.raw += data
        *whole, self._rest = (self._rest + data).split(b"\n")
        new = [one for raw in whole if (one := _plain(raw))]
        self.lines += new
        del self.lines[:-_MOST_LINES]
        return new


def _plain(raw: bytes) -> str:
    """A line; of one that was written over itself, as bars are, what stood there last."""
    text = raw.decode(errors="replace").rstrip("\r").rpartition("\r")[2]
    return plain_line(text, len(text))


def _environment() -> QProcessEnvironment:
    made = QProcessEnvironment()
    more = {
        "PYTHONUNBUFFERED": "1",
        "NO_COLOR": "1",
        "COLUMNS": _WIDTH,
        "PYTHONIOENCODING": "utf-8",
    }
    for name, value in {**child_environment(os.environ), **more}.items():
        made.insert(name, value)
    return made
