"""What the program says, written by threads of their own: nobody waits for a terminal that halts.

A terminal can be paused (Ctrl+S) or lost, a pipe be full or broken, a connection be slow.
"""

from __future__ import annotations

import errno
import io
import itertools
import os
import select
import signal
import sys
import threading
import time
from collections import deque
from types import TracebackType
from typing import Final, Self, TextIO, cast

from shared.language import _n

MOST_WAITING: Final = 1000
"""Pieces of text that wait to be written; one is a line or a table."""
LAST_WORDS_S: Final = 1.0
"""How long a terminal that does not take the last words holds up the end of a session."""
HURRIED_S: Final = 0.3
"""The same, where the program was asked to end."""
_IN_ORDER_S: Final = 0.3
"""How long stderr waits for what was said before it on stdout, and the other way round."""
_LOOK_S: Final = 0.2
_TURN_S: Final = 0.05
_AGAIN_S: Final = 0.02
_FULL: Final = frozenset(
    number for name in ("ENOSPC", "EDQUOT", "EFBIG") if (number := getattr(errno, name, None))
)
"""The disk is full: what is written is lost, but nobody has gone."""

_current: Terminal | None = None


def lost_output() -> int | None:
    """The signal that stands for the loss of stdout (128 + it is the exit code); None: it is there.

    SIGPIPE for a pipe that is read no more, SIGHUP for a terminal that was closed.
    """
    return None if _current is None else _current.lost


def check_output() -> None:
    """For loops that wait and seldom say anything. Raises BrokenPipeError once stdout is lost."""
    if lost_output() is not None:
        raise BrokenPipeError


def never_wait() -> None:
    """From now on leave out what stdout and stderr do not take, and tell so; raise nothing."""
    if _current is not None:
        _current.waits = False


def hurry() -> None:
    """The program was asked to end: wait for its last words but a moment. Takes no lock."""
    if _current is not None:
        _current.hurried = True


def can_type() -> bool:
    """Whether a person may be there who types."""
    try:
        return sys.stdin is not None and sys.stdin.isatty()
    except ValueError:  # it was closed
        return False


def read_line() -> str:
    """A line that is typed, with its end; empty where nothing more can be typed."""
    try:
        return "" if sys.stdin is None else sys.stdin.readline()
    except (OSError, ValueError):  # the terminal is gone
        return ""


class Terminal:
    """Has stdout and stderr written by threads of their own, in the order of what is said.

    Whoever writes waits only where very much waits already, and not at all after
    :func:`never_wait`. A stream that is no file (as in tests) is left as it is.
    """

    def __init__(self) -> None:
        self.changed = threading.Condition()
        self.numbers = itertools.count()
        self.waits = True
        self.hurried = False
        self._ending_since: float | None = None
        self._outputs: list[Output] = []
        self._before: tuple[TextIO, TextIO, Terminal | None]

    def __enter__(self) -> Self:
        global _current
        self._before = (sys.stdout, sys.stderr, _current)
        sys.stdout, sys.stderr = self._apart(sys.stdout), self._apart(sys.stderr)
        _current = self
        for output in self._outputs:
            output.start([other for other in self._outputs if other is not output])
        if isinstance(sys.stdin, io.TextIOWrapper):
            sys.stdin.reconfigure(errors="replace")
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        global _current
        self.hurried = True
        self.finish()
        sys.stdout, sys.stderr, _current = self._before
        for output in self._outputs:
            output.end()

    def _apart(self, stream: TextIO | None) -> TextIO:
        if stream is None:  # the program was started without
            return io.StringIO()
        try:
            stream.flush()
            output = Output(stream, self, is_account=stream is sys.stdout)
        except (OSError, ValueError):
            return stream
        self._outputs.append(output)
        return cast("TextIO", output)

    @property
    def lost(self) -> int | None:
        """As :func:`lost_output`."""
        return next((one.lost for one in self._outputs if one.is_account), None)

    def check(self) -> None:
        """Raises what writing to stdout failed with: BrokenPipeError when it is lost."""
        for output in self._outputs:
            output.check()

    def finish(self) -> None:
        """Wait until all is written; where nothing may wait, or that is hurried, but a moment.

        All calls together wait no longer than that moment.
        """
        with self.changed:
            while any(output.pending for output in self._outputs):
                if self.hurried or not self.waits:
                    self._ending_since = self._ending_since or time.monotonic()
                    most_s = HURRIED_S if self.hurried else LAST_WORDS_S
                    if time.monotonic() - self._ending_since > most_s:
                        return
                self.changed.wait(_TURN_S)


class Output(io.TextIOBase):
    """stdout or stderr, with a thread that writes what waits. Once it is lost nothing is kept.

    Writes to the file descriptor itself: a buffer of Python's would be locked by a thread that
    hangs in it, and keep the program from ending.
    """

    def __init__(self, stream: TextIO, terminal: Terminal, *, is_account: bool) -> None:
        """Raises OSError or ValueError where the stream is no file."""
        self.is_account = is_account
        self.lost: int | None = None
        self._fault: OSError | None = None
        self._encoding = stream.encoding or "utf-8"
        self._raw = os.fdopen(os.dup(stream.fileno()), "wb", buffering=0)
        self._tty = self._raw.isatty()
        self._terminal = terminal
        self._changed = terminal.changed
        self._others: list[Output] = []
        self._waiting: deque[tuple[int, bytes]] = deque()
        self._left_out = 0
        self._late = False
        self._closing = False
        self._thread = threading.Thread(target=self._write_on, name="terminal", daemon=True)

    def start(self, others: list[Output]) -> None:
        """Begin to write; what was said before on one of ``others`` comes first there."""
        self._others = others
        self._thread.start()

    def end(self) -> None:
        """Write no more. A thread that hangs is left behind."""
        with self._changed:
            self._closing = True
            self._changed.notify_all()
        self._thread.join(0.0 if self.pending else _LOOK_S)

    @property
    def pending(self) -> bool:
        """Whether something is still to be written."""
        return bool(self._waiting or self._left_out) and not self._gone

    @property
    def _gone(self) -> bool:
        return self.lost is not None or self._fault is not None

    def check(self) -> None:
        """Raises OSError (BrokenPipeError) when what was said on stdout could not be written."""
        if self.is_account and self.lost is not None:
            raise BrokenPipeError
        if self.is_account and self._fault is not None:
            raise self._fault

    # ---- the stream, for any thread

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """As of the stream before."""
        return self._encoding

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        return self._tty

    def fileno(self) -> int:
        """The file descriptor."""
        return self._raw.fileno()

    def writable(self) -> bool:
        """It is."""
        return True

    def flush(self) -> None:
        """Do nothing: it is being written."""

    def write(self, text: str) -> int:
        """Have it written. Raises OSError once stdout is lost, before :func:`never_wait`."""
        with self._changed:
            while self._terminal.waits and len(self._waiting) >= MOST_WAITING and not self._gone:
                self._changed.wait(_LOOK_S)
            if self._terminal.waits:
                self.check()
            if not text or self._gone:
                return len(text)
            if len(self._waiting) >= MOST_WAITING:
                self._left_out += max(1, text.count("\n"))
            else:
                self._tell_left_out()
                self._append(text)
        return len(text)

    def _append(self, text: str) -> None:
        data = text.replace("\n", os.linesep).encode(self._encoding, "replace")
        self._waiting.append((next(self._terminal.numbers), data))
        self._changed.notify_all()

    def _tell_left_out(self) -> None:
        if self._left_out:
            text = _n(
                "({count} line left out here: the terminal or pipe did not take them.)",
                "({count} lines left out here: the terminal or pipe did not take them.)",
                self._left_out,
            )
            self._append(text.format(count=self._left_out) + "\n")
            self._left_out = 0

    # ---- its thread

    def _write_on(self) -> None:
        while (data := self._next()) is not None:
            error = self._write_out(data)
            with self._changed:
                self._late = False
                if self._waiting:
                    self._waiting.popleft()
                if error is not None:
                    self._take(error, data)
                self._changed.notify_all()
        self._raw.close()

    def _next(self) -> bytes | None:
        """What is to be written now, which stays the first that waits; None: nothing any more."""
        with self._changed:
            while not self._waiting:
                self._tell_left_out()
                if self._waiting:
                    break
                if self._closing:
                    return None
                if not self._changed.wait(_LOOK_S) and not self._gone and self._is_read_no_more():
                    self._take(BrokenPipeError(errno.EPIPE, ""), b"")
            number, data = self._waiting[0]
            self._let_go_first(number)
            return data

    def _let_go_first(self, number: int) -> None:
        """Wait a moment for what was said before on the other stream."""
        until = time.monotonic() + _IN_ORDER_S
        for other in self._others:
            while other.has_before(number):
                left_s = until - time.monotonic()
                if left_s <= 0:
                    other.is_late()
                else:
                    self._changed.wait(left_s)

    def has_before(self, number: int) -> bool:
        """Whether something that was said before ``number`` is still to be written, and may be."""
        return bool(self._waiting) and self._waiting[0][0] < number and not self._late

    def is_late(self) -> None:
        """Nobody waits for what it is writing now."""
        self._late = True

    def _write_out(self, data: bytes) -> OSError | None:
        """May take for ever."""
        left = memoryview(data)
        while left and not self._gone:
            try:
                written = self._raw.write(left)
            except OSError as error:
                return error
            if written is None:  # another program has made it one that never waits
                time.sleep(_AGAIN_S)
            else:
                left = left[written:]
        return None

    def _take(self, error: OSError, data: bytes) -> None:
        """Note what came of writing; the lock is held."""
        if error.errno not in _FULL:
            self._waiting.clear()
            self._left_out = 0
            name, usual = ("SIGHUP", 1) if self._tty else ("SIGPIPE", 13)
            self.lost = int(getattr(signal, name, usual))
        elif self._terminal.waits:
            self._fault = error
        else:
            self._left_out += max(1, data.count(b"\n"))

    def _is_read_no_more(self) -> bool:
        """Whether the pipe has no reader or the terminal is gone, found without writing to it."""
        make = getattr(select, "poll", None)  # not on Windows
        if make is None:
            return False
        asked = make()
        asked.register(self._raw, 0)
        return any(event & (select.POLLERR | select.POLLHUP) for _, event in asked.poll(0))
